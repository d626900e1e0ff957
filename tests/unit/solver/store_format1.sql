-- A store of format 1, as the program of that format wrote it; of the prediction's points the first four.
CREATE TABLE units (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, unit TEXT NOT NULL, meaning TEXT NOT NULL,
  PRIMARY KEY (table_name, column_name)) STRICT, WITHOUT ROWID;
INSERT INTO units VALUES('acts','angle','rad','angle of this act');
INSERT INTO units VALUES('acts','clamp','N','clamp load that the stud probably had after its last act, an estimate');
INSERT INTO units VALUES('acts','clamp_deviation','N','standard deviation of that estimate');
INSERT INTO units VALUES('acts','instant','s','time as seconds since 1970-01-01T00:00:00; UTC where it has an offset, else its own clock');
INSERT INTO units VALUES('acts','odometer','m','distance driven by the vehicle until then');
INSERT INTO units VALUES('acts','set_torque','N m','torque that it was to have');
INSERT INTO units VALUES('acts','torque','N m','torque that the wrench wrote down');
INSERT INTO units VALUES('prediction_points','clamp','N','lowest cold clamp load of a stud');
INSERT INTO units VALUES('prediction_points','distance','m','driven from the tightening');
INSERT INTO units VALUES('prediction_points','time','s','from the tightening');
INSERT INTO units VALUES('predictions','below_distance','m','driven from the tightening by then');
INSERT INTO units VALUES('predictions','below_time','s','first instant at which a stud is below the required clamp, from the tightening');
INSERT INTO units VALUES('predictions','end_time','s','end of the prediction, from the tightening');
INSERT INTO units VALUES('predictions','odometer','m','distance driven by the vehicle until the tightening');
INSERT INTO units VALUES('predictions','recheck_distance','m','driven from the tightening by then');
INSERT INTO units VALUES('predictions','recheck_time','s','latest re-check that the prediction allows, from the tightening');
INSERT INTO units VALUES('predictions','required_clamp','N','clamp load that each stud needs');
INSERT INTO units VALUES('predictions','tightened_instant','s','time of tightening as seconds since 1970-01-01T00:00:00');
INSERT INTO units VALUES('readings','instant','s','time as seconds since 1970-01-01T00:00:00; UTC where it has an offset, else its own clock');
INSERT INTO units VALUES('readings','odometer','m','distance driven by the vehicle until then');
INSERT INTO units VALUES('readings','torque','N m','torque that the wrench showed');
CREATE TABLE imports (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('records', 'readings', 'prediction')),
  file_name TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  subject TEXT NOT NULL,
  added_utc TEXT NOT NULL,
  program_version TEXT NOT NULL,
  UNIQUE (kind, sha256, subject)) STRICT;
INSERT INTO imports VALUES(1,'records','f1.csv','cb5b196d7ecd0a60b4f4a7f567e5cff5b2f29a6e57757fadb52e763349e063ea','','2026-11-26T01:41:27Z','0.1.0');
INSERT INTO imports VALUES(2,'readings','f1r.csv','731442a9cf9516e209a3e10d709fc48c1304ec71adfc6d5d3ecd06c0c1aff7a9','','2026-11-26T01:41:27Z','0.1.0');
INSERT INTO imports VALUES(3,'prediction','run.h5','9a81f537676824e504e24436977545aea347e4c88003b1c1066845ecab00fadb','7:demo 31;5:front;4:left;10:1712620800;','2026-11-26T01:41:27Z','0.1.0');
CREATE TABLE wheels (
  id INTEGER PRIMARY KEY,
  vehicle TEXT NOT NULL CHECK (vehicle <> ''), axle TEXT NOT NULL, wheel TEXT NOT NULL,
  studs INTEGER NOT NULL DEFAULT 0,
  UNIQUE (vehicle, axle, wheel)) STRICT;
INSERT INTO wheels VALUES(1,'demo 31','front','left',3);
INSERT INTO wheels VALUES(2,'demo 32','front','left',3);
INSERT INTO wheels VALUES(3,'demo 33','front','right',0);
CREATE TABLE acts (
  id INTEGER PRIMARY KEY,
  wheel_id INTEGER NOT NULL REFERENCES wheels (id),
  import_id INTEGER NOT NULL REFERENCES imports (id),
  content_sha256 TEXT NOT NULL UNIQUE,
  stud INTEGER NOT NULL CHECK (stud >= 1),
  pass INTEGER NOT NULL CHECK (pass >= 1),
  pass_given INTEGER NOT NULL CHECK (pass_given IN (0, 1)),
  time TEXT NOT NULL,
  instant REAL NOT NULL,
  torque REAL NOT NULL,
  set_torque REAL,
  angle REAL,
  clamp REAL,
  clamp_deviation REAL,
  odometer REAL,
  inside INTEGER NOT NULL CHECK (inside IN (0, 1)),
  reasons TEXT NOT NULL,
  tool TEXT NOT NULL,
  operator TEXT) STRICT;
INSERT INTO acts VALUES(1,1,1,'b1cd42d20ef38c206c22b7deff91506bb44181b4b4f73734e3f7ad416e3ae8df',1,1,0,'2024-04-09T06:12:10',1712643130.0,640.25000000000000001,640.0,0.69813170079773179121,NULL,NULL,81250000.0,1,'','demo wrench','Fitter Q');
INSERT INTO acts VALUES(2,1,1,'38703ffc2d4d882c7258055fcbe6f5b4ea34afadf3965150a34f5223014e7ab2',3,1,0,'2024-04-09T06:12:20',1712643140.0,641.49999999999999999,640.0,0.72431163957764677086,NULL,NULL,81250000.0,1,'','demo wrench','Fitter Q');
INSERT INTO acts VALUES(3,1,1,'44cd375edcf88a8562639001b9118039e5ae66d5f63091ff09d681f94110dbb5',2,1,0,'2024-04-09T06:12:30',1712643150.0,300.0,640.0,0.20943951023931955957,NULL,NULL,81250000.0,0,'stud 2: torque 300.0 N·m, 53.1 % below the set 640.0 N·m (band 5 %)','demo wrench','Fitter Q');
INSERT INTO acts VALUES(4,2,1,'0042c1618dcf34c038b8f7cc867582605d9f85db7996a9c67998c54269699929',1,1,0,'2024-04-10',1712707200.0,640.0,640.0,NULL,NULL,NULL,NULL,1,'','',NULL);
INSERT INTO acts VALUES(5,2,1,'ee6d12e0349bd3988fb00c0c0846ff06c9829187801b4a6d30f95cf76f354d3c',2,1,0,'2024-04-10',1712707200.0,640.0,640.0,NULL,NULL,NULL,NULL,0,'stud 3: no act in pass 1','',NULL);
CREATE TABLE readings (
  id INTEGER PRIMARY KEY,
  wheel_id INTEGER NOT NULL REFERENCES wheels (id),
  import_id INTEGER NOT NULL REFERENCES imports (id),
  content_sha256 TEXT NOT NULL UNIQUE,
  stud INTEGER NOT NULL CHECK (stud >= 1),
  time TEXT NOT NULL,
  instant REAL NOT NULL,
  torque REAL NOT NULL,
  moved INTEGER NOT NULL CHECK (moved IN (0, 1)),
  odometer REAL,
  tool TEXT NOT NULL,
  operator TEXT) STRICT;
INSERT INTO readings VALUES(1,1,2,'0c9d43a6954f3d1d326012899b67381af27009a849a9532fa2fd7c7c732b5df2',1,'2024-04-11T15:00:00',1712847600.0,600.12499999999999998,1,81330000.0,'check wrench',NULL);
INSERT INTO readings VALUES(2,3,2,'a31488d5bdf2006cd21e50c75ed5e7a52ec3d79a2af7c9e6c3c9c76cad4450a3',1,'2024-04-11T15:00:00',1712847600.0,600.0,0,NULL,'',NULL);
CREATE TABLE predictions (
  id INTEGER PRIMARY KEY,
  wheel_id INTEGER NOT NULL REFERENCES wheels (id),
  import_id INTEGER NOT NULL REFERENCES imports (id),
  tightened TEXT NOT NULL,
  tightened_instant REAL NOT NULL,
  odometer REAL,
  title TEXT NOT NULL,
  source TEXT NOT NULL,
  digest TEXT NOT NULL,
  required_clamp REAL NOT NULL,
  end_time REAL NOT NULL,
  below_time REAL,
  below_distance REAL,
  below_stud INTEGER,
  recheck_time REAL,
  recheck_distance REAL,
  UNIQUE (wheel_id, tightened_instant, digest)) STRICT;
INSERT INTO predictions VALUES(1,1,3,'2024-04-09',1712620800.0,81250000.0,'Spring washers nested and stacked','history','9a81f537676824e504e24436977545aea347e4c88003b1c1066845ecab00fadb',119590.90113735782506,604800.0,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE prediction_points (
  prediction_id INTEGER NOT NULL REFERENCES predictions (id),
  number INTEGER NOT NULL,
  time REAL NOT NULL,
  distance REAL,
  clamp REAL NOT NULL,
  PRIMARY KEY (prediction_id, number)) STRICT, WITHOUT ROWID;
INSERT INTO prediction_points VALUES(1,0,0.0,0.0,182623.79422364590574);
INSERT INTO prediction_points VALUES(1,1,300.0,0.0,182288.75976550826453);
INSERT INTO prediction_points VALUES(1,2,3600.0,0.0,181890.13684607300091);
INSERT INTO prediction_points VALUES(1,3,7200.0,0.0,181583.78877903643297);
CREATE INDEX acts_by_wheel ON acts (wheel_id, instant);
CREATE INDEX readings_by_wheel ON readings (wheel_id, instant);
PRAGMA application_id = 1129072211;
PRAGMA user_version = 1;
