"""The Python modules of notebooks/: paths, the call of the program, statistics and charts. python3 -m unittest, or this file.

The program is that of $CLAMPFADE, or as clampfade_run.py finds it. Exits 77 where the packages are not there.
"""
import os
import sys
import tempfile
import unittest
from pathlib import Path
from unittest import mock

sys.dont_write_bytecode = True
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "notebooks"))
try:
    import h5netcdf  # noqa: F401, what a notebook exports with
    import matplotlib

    matplotlib.use("agg")
    import matplotlib.pyplot as plt
    import numpy as np
    import xarray as xr

    import clampfade_charts as charts
    import clampfade_io as files
    import clampfade_run as cf
except ImportError as error:
    print(f"not checked here: {error}; install python3-h5py, python3-h5netcdf, python3-xarray, python3-yaml and python3-matplotlib")
    sys.exit(77)

DAY = 86400.0


def small():
    """One painted disc for a week: the quickest of the shipped wheels."""
    return cf.changed(cf.SCENARIOS / "study-tool-scatter.yaml", {"duty/calendar/weeks": 1, "record": {"every": "6 h"}})


class Paths(unittest.TestCase):
    def setUp(self):
        self.wheel = cf.read(cf.SCENARIOS / "painted-steel-duals.yaml")

    def test_lead_where_those_of_a_study_lead(self):
        self.assertEqual(cf.values(self.wheel, "joint/stack/*/*_side/thickness"), ["80 um"] * 4)
        self.assertEqual(cf.values(self.wheel, "joint/stack/outer disc/thickness"), ["12 mm"])
        self.assertEqual(cf.values(self.wheel, "joint/stack/1/part"), ["hub flange"])
        self.assertEqual(cf.values(self.wheel, "duty/day/round/stops"), [770])
        self.assertEqual(cf.values(self.wheel, "duty/day/*/speed"), ["60 km/h", "60 km/h"])
        self.assertEqual(cf.values(self.wheel, "tightening/passes/2"), [0.7])
        self.assertEqual(cf.values(self.wheel, "joint/interfaces/head | hub flange/embedding"), ["0 um"])

    def test_change_a_copy_only(self):
        thinner = cf.changed(self.wheel, {"joint/stack/outer disc/*_side/thickness": "40 um", "duty/calendar/weeks": 2})
        self.assertEqual(cf.values(thinner, "joint/stack/*/*_side/thickness"), ["80 um", "80 um", "40 um", "40 um"])
        self.assertEqual(thinner["duty"]["calendar"]["weeks"], 2)
        self.assertEqual(self.wheel, cf.read(cf.SCENARIOS / "painted-steel-duals.yaml"))

    def test_do_not_share_what_they_put(self):
        entry = {"retorque": {"after": "80 km"}}
        twice = cf.changed(self.wheel, {"service": [], "service/+": entry})
        entry["retorque"]["after"] = "1 d"
        self.assertEqual(twice["service"], [{"retorque": {"after": "80 km"}}])

    def test_add_and_take_out(self):
        longer = cf.changed(self.wheel, {"joint/stack/+": {"part": "spacer"}})
        self.assertEqual([p["part"] for p in longer["joint"]["stack"]][-1], "spacer")
        self.assertNotIn("record", cf.changed(self.wheel, {"record": None}))
        bare = cf.changed(self.wheel, {"joint/stack/*/*_side": None})
        self.assertFalse([p for p in bare["joint"]["stack"] if "head_side" in p or "nut_side" in p])
        emptied = cf.changed(self.wheel, {"duty/day/*": None})
        self.assertEqual(emptied["duty"]["day"], [])
        parked = cf.changed(self.wheel, {"duty/day/drive*": None})
        self.assertEqual([next(iter(step)) for step in parked["duty"]["day"]], ["park", "round", "park"])
        self.assertEqual(cf.changed(self.wheel, {"joint/required_clamp": "100 kN"})["joint"]["required_clamp"], "100 kN")

    def test_that_lead_nowhere_say_what_is_there(self):
        for path, words in (("joint/stack/outer/thickness", "hub flange, drum flange, inner disc, outer disc"),
                            ("duty/day/park/until", "2 entries are called 'park'"), ("joint/stack/*/side/x", "leads to nothing"),
                            ("joint/stak/*/thickness", "nothing is called 'stak'"), ("joint/stack/9/part", "'9'"),
                            ("tightening/+", "not a list")):
            with self.subTest(path), self.assertRaisesRegex(KeyError, words.replace("+", "\\+")):
                cf.changed(self.wheel, {path: 1})
        with self.assertRaisesRegex(KeyError, "is not given"):
            cf.values(self.wheel, "joint/required_clamp")
        with self.assertRaisesRegex(KeyError, "is not given"):
            cf.changed(self.wheel, {"joint/required_clamp": None})


class Files(unittest.TestCase):
    def test_a_dictionary_means_what_its_file_means(self):
        for path in sorted(cf.SCENARIOS.glob("*.yaml")):
            with self.subTest(path.name):
                self.assertEqual(cf.check(cf.read(path)), cf.check(path))

    def test_plain_words_stay_words(self):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "a.yaml"
            path.write_text("a: 12:30:00\nb: 2024-04-12\nc: yes\nd: 1e-16\ne: -3\nf: true\ng: '10.9'\nh: 5.\ni: 2024e\n")
            read = cf.read(path)
            self.assertEqual(read, {"a": "12:30:00", "b": "2024-04-12", "c": "yes", "d": 1e-16, "e": -3, "f": True,
                                    "g": "10.9", "h": 5.0, "i": "2024e"})
            cf.write(read, path)
            self.assertEqual(cf.read(path), read)
            for bad in ("- a\n- b\n", "a: [1\n"):
                path.write_text(bad)
                with self.assertRaises(ValueError):
                    cf.read(path)

    def test_files_that_a_scenario_names_are_found_from_anywhere(self):
        record = cf.values(cf.read(cf.SCENARIOS / "recorded-tightening.yaml"), "tightening/records")[0]
        named = record if isinstance(record, str) else record["file"]
        self.assertEqual(Path(named), (cf.SCENARIOS / "recorded-tightening.csv").resolve())


class Program(unittest.TestCase):
    def test_named_ones_win_and_must_be_there(self):
        real = cf.find_program()
        with mock.patch.dict(os.environ, {"CLAMPFADE": "/nowhere/clampfade"}):
            with self.assertRaisesRegex(FileNotFoundError, "/nowhere/clampfade"):
                cf.find_program()
            self.assertEqual(cf.find_program(real), real)
        with mock.patch.dict(os.environ, {"CLAMPFADE": str(real)}), self.assertRaisesRegex(FileNotFoundError, "/other"):
            cf.find_program("/other")

    def test_path_comes_before_the_source_tree(self):
        with tempfile.TemporaryDirectory() as folder:
            mine = Path(folder) / "clampfade"
            mine.write_text("#!/bin/sh\n")
            mine.chmod(0o755)
            with mock.patch.dict(os.environ, {"PATH": folder}):
                os.environ.pop("CLAMPFADE", None)
                self.assertEqual(cf.find_program(), mine)

    def test_its_messages_reach_the_reader(self):
        with self.assertRaises(cf.ClampfadeError) as caught:
            cf.run(cf.changed(small(), {"tightening/torque": 650}))
        self.assertEqual(caught.exception.exit_code, 2)
        self.assertIn("input.missing_unit", str(caught.exception))
        self.assertIn("tightening/torque: '650' has no unit", str(caught.exception))

    def test_runs_a_file_and_a_dictionary_alike(self):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "wheel.yaml"
            cf.write(small(), path)
            # A folder for temporary files of its own: other tests leave theirs in the common one meanwhile.
            scratch = Path(folder) / "scratch"
            scratch.mkdir()
            with mock.patch.object(tempfile, "tempdir", str(scratch)):
                by_file, by_dictionary = cf.run(path), cf.run(small())
            self.assertEqual(list(scratch.iterdir()), [])
            scratch.rmdir()
            self.assertEqual(by_file.attrs["digest"], by_dictionary.attrs["digest"])
            self.assertEqual(by_file.attrs["filetype"], "clampfade-history")
            self.assertEqual(float(by_file.time[-1]), 7 * DAY)
            self.assertEqual([p.name for p in Path(folder).iterdir()], ["wheel.yaml"])

    def test_keeps_a_file_and_replaces_none_unasked(self):
        with tempfile.TemporaryDirectory() as folder:
            kept = Path(folder) / "kept.h5"
            kept.write_text("mine")
            with self.assertRaises(cf.ClampfadeError) as caught:
                cf.run(small(), output=kept)
            self.assertEqual(caught.exception.exit_code, 4)
            self.assertEqual(kept.read_text(), "mine")
            run = cf.run(small(), output=kept, force=True)
            self.assertTrue(run.equals(files.load(kept)))

    def test_runs_studies(self):
        swept = cf.changed(small(), {"scatter": None, "vary": [{"path": "tightening/torque", "name": "torque",
                                                                "values": ["400 lbf*ft", "475 lbf*ft", "500 lbf*ft"]}]})
        sweep = cf.study(swept, jobs=1)
        self.assertEqual(sweep.clamp_cold_end.dims, ("torque", "stud"))
        first = sweep.clamp_cold_first.mean("stud").values
        np.testing.assert_allclose(first / first[0], sweep.torque.values / sweep.torque.values[0], rtol=1e-3)
        # A path leads here to where it leads in the program.
        path = "joint/stack/*/*_side/thickness"
        thin = cf.study(cf.changed(small(), {"scatter": None, "vary": [{"path": path, "values": ["30 um"], "name": "paint"}]}))
        alone = cf.run(cf.changed(small(), {path: "30 um"}))
        np.testing.assert_allclose(thin.clamp_cold_end.values[0], alone.clamp_cold.values[-1], rtol=1e-6)
        one = cf.study(small(), "sample", count=2, seed=5)
        again, other = (cf.study(small(), "sample", count=2, seed=seed) for seed in (5, 6))
        self.assertEqual(one.attrs["digest"], again.attrs["digest"])
        self.assertNotEqual(one.attrs["digest"], other.attrs["digest"])
        self.assertEqual(one.attrs["kind"], "sample")
        designed = cf.study(small(), "sample", count=2, sensitivity=True)
        self.assertEqual(designed.sizes["case"], 2 * (len(designed.attrs["inputs"].split("\n")) + 2))
        with self.assertRaises(ValueError):
            cf.study(small(), "lottery")
        with self.assertRaises(ValueError):
            cf.study(small(), "sweep", count=3)


class Statistics(unittest.TestCase):
    @staticmethod
    def design(blocks, inputs, outcome):
        """A sample for sensitivities of independent inputs between -pi and pi, and the outcome of each case."""
        random = np.random.default_rng(11)
        base, anew = random.uniform(-np.pi, np.pi, (2, blocks, inputs))
        cases = [base, anew]
        for k in range(inputs):
            cases.append(np.where(np.arange(inputs) == k, anew, base))
        x = np.stack(cases, axis=1).reshape(-1, inputs)
        names = [f"x{k + 1}" for k in range(inputs)]
        study = xr.Dataset({"design": ("case", np.tile(np.arange(inputs + 2), blocks)), "status": ("case", np.ones(len(x), int))}
                           | {f"input_{name}": ("case", x[:, k], {"label": f"input {k + 1}"}) for k, name in enumerate(names)},
                           attrs={"kind": "sample", "inputs": "\n".join(names)})
        return study, outcome(x)

    def test_shares_of_a_function_whose_shares_are_known(self):
        # Ishigami and Homma (1990), a = 7, b = 0.1; closed forms as in Saltelli et al., Global Sensitivity Analysis (2008).
        a, b = 7.0, 0.1
        study, outcome = self.design(16384, 3, lambda x: np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2
                                     + b * x[:, 2] ** 4 * np.sin(x[:, 0]))
        alone = 0.5 * (1 + b * np.pi ** 4 / 5) ** 2
        second, mixed = a ** 2 / 8, 8 * b ** 2 * np.pi ** 8 / 225
        variance = alone + second + mixed
        shares = files.shares(study, outcome, draws=60)
        np.testing.assert_allclose(shares["first"], [alone / variance, second / variance, 0], atol=0.02)
        np.testing.assert_allclose(shares["total"], [(alone + mixed) / variance, second / variance, mixed / variance], atol=0.02)
        self.assertEqual(list(shares.input.values), ["input 1", "input 2", "input 3"])
        for order in ("first", "total"):
            width = (shares[f"{order}_high"] - shares[f"{order}_low"]).values
            self.assertTrue(np.all(width > 0.005) and np.all(width < 0.1), width)
            self.assertTrue(np.all(shares[f"{order}_low"] <= shares[order]) and np.all(shares[order] <= shares[f"{order}_high"]))

    def test_blocks_that_failed_are_left_out(self):
        study, outcome = self.design(64, 2, lambda x: x[:, 0] + 2 * x[:, 1])
        whole = files.shares(study.isel(case=slice(4, None)), outcome[4:])
        study.status[2] = 2
        outcome[2] = np.nan
        partly = files.shares(study, outcome)
        self.assertEqual(partly.attrs["blocks"], 63)
        np.testing.assert_allclose(partly["first"], whole["first"], rtol=1e-12)

    def test_what_has_no_shares_is_refused(self):
        study, outcome = self.design(8, 2, lambda x: x[:, 0])
        with self.assertRaisesRegex(ValueError, "does not vary"):
            files.shares(study, 0 * outcome)
        with self.assertRaisesRegex(ValueError, "sensitivity=True"):
            files.shares(study.drop_vars("design"), outcome)

    def test_wheels_are_the_independent_ones(self):
        study, _ = self.design(4, 2, lambda x: x[:, 0])
        study.status[4] = 2
        self.assertEqual(list(np.flatnonzero(study.status.values == 1)[:3]), [0, 1, 2])
        self.assertEqual(list(files.wheels(study.assign_coords(case=np.arange(16))).case.values), [0, 1, 5, 8, 9, 12, 13])
        with self.assertRaises(ValueError):
            files.wheels(study.assign_attrs(kind="sweep"))

    def test_events_of_a_run(self):
        run = history()
        self.assertEqual(files.days_until_below(run), 2.0)
        self.assertEqual(files.retorques(run), [(3, 4)])
        self.assertIsNone(files.days_until_below(run.drop_vars("event_kind")))
        self.assertEqual(files.retorques(run.drop_vars("event_kind")), [])


def history():
    """An invented history of two studs and six records, with a retorque between two of the same time."""
    clamp = np.array([[180, 170], [150, 160], [120, 130], [110, 90], [175, 172], [160, 165]]) * 1e3
    cost = np.zeros((6, 2, 2))
    cost[-1] = [[20e3, 4e3], [30e3, 6e3]]
    return xr.Dataset(
        {"clamp_cold": (("time", "stud"), clamp), "loss_clamp": (("time", "stud", "mechanism"), cost),
         "temperature": (("time", "node"), np.full((6, 1), 293.15) + np.arange(6)[:, None]),
         "joint_required_clamp": 120e3, "event_time": ("event", np.array([3, 2, 4]) * DAY),
         "event_kind": ("event", np.array(["retorque", "below required clamp", "below required clamp"], object))},
        {"time": np.array([0, 1, 2, 3, 3, 4]) * DAY, "stud": ["1", "2"], "mechanism": ["embedding", "coating_flow"],
         "node": ["disc"]}, {"title": "Invented"})


class Charts(unittest.TestCase):
    def tearDown(self):
        plt.close("all")

    def test_clamp_of_one_run(self):
        ax = charts.plot_clamp(history())
        weakest = [line for line in ax.lines if line.get_label() == "stud 1, weakest at the end"][0]
        np.testing.assert_allclose(weakest.get_xdata(), [0, 1, 2, 3, 3, 4])
        np.testing.assert_allclose(weakest.get_ydata(), [180, 150, 120, 110, 175, 160])
        self.assertEqual((ax.get_xlabel(), ax.get_ylabel()), ("days since tightening", "cold clamp load, kN"))
        texts = [text.get_text() for text in ax.texts]
        self.assertIn("required 120 kN", texts)
        self.assertIn("below on day 2", texts)

    def test_clamp_of_several(self):
        higher = history()
        higher["clamp_cold"] = higher.clamp_cold + 50e3
        higher["event_kind"] = ("event", np.array(["retorque", "hot day", "hot day"], object))
        ax = charts.plot_clamp({"as it is": history(), "higher": higher})
        by_name = {line.get_label(): line for line in ax.lines}
        np.testing.assert_allclose(by_name["higher"].get_ydata(), [220, 200, 170, 140, 222, 210])
        self.assertNotEqual(by_name["higher"].get_linestyle(), by_name["as it is"].get_linestyle())
        markers = [line for line in ax.lines if line.get_marker() == "o" and len(line.get_xdata())]
        self.assertEqual([tuple(m.get_xydata()[0]) for m in markers], [(2.0, 120.0)])

    def test_budget(self):
        ax = charts.plot_budget({"a": history(), "b": history()})
        widths = [bar.get_width() for bar in ax.patches if bar.get_width() and bar.get_y() < 0.5 and bar.get_height() == 0.72]
        np.testing.assert_allclose(sorted(widths), [5, 25])
        self.assertIn("30.0", [text.get_text() for text in ax.texts])
        self.assertEqual([t.get_text() for t in ax.get_yticklabels()], ["a", "b"])

    def test_temperature(self):
        line = charts.plot_temperature(history(), days=(1, 3)).lines[0]
        np.testing.assert_allclose(line.get_xdata(), [1, 2, 3, 3])
        np.testing.assert_allclose(line.get_ydata(), [21, 22, 23, 24])

    def test_spread(self):
        clamp = np.linspace(100e3, 200e3, 101)[:, None] * np.array([1.0, 0.9])
        study = xr.Dataset({"clamp_cold_lowest": (("case", "time"), clamp), "status": ("case", np.ones(101, int)),
                            "required_clamp": ("case", np.full(101, 95e3))}, {"time": [0.0, DAY]}, {"kind": "sample"})
        ax = charts.plot_spread(study)
        by_name = {line.get_label(): line.get_ydata() for line in ax.lines}
        np.testing.assert_allclose(by_name["median wheel"], [150, 135])
        np.testing.assert_allclose(by_name["lowest of all"], [100, 90])
        wide, half = (band.get_paths()[0].get_extents() for band in ax.collections)
        np.testing.assert_allclose([wide.y0, wide.y1, half.y0, half.y1], [94.5, 195, 112.5, 175])
        with self.assertRaises(ValueError):
            charts.plot_spread(study.assign_attrs(kind="sweep"))

    def test_map(self):
        values = xr.DataArray(np.array([[100e3, 110e3], [130e3, 150e3], [160e3, 170e3]]), dims=("paint", "heat"), attrs={"units": "N"},
                              coords={"paint": ("paint", [0, 50e-6, 100e-6], {"units": "m"}),
                                      "heat": ("heat", [0.0, 2000.0], {"units": "W", "label": "brake heat"})})
        ax = charts.plot_map(values, label="clamp", level=120e3)
        self.assertEqual((ax.get_xlabel(), ax.get_ylabel()), ("brake heat, kW", "paint, µm"))
        at = {text.get_position(): text.get_text() for text in ax.texts}
        self.assertEqual((at[(0.0, 0.0)], at[(2.0, 50.0)]), ("100", "150"))
        self.assertEqual(ax.get_legend().get_texts()[0].get_text(), "required clamp, 120 kN")

    def test_shares(self):
        shares = xr.Dataset({f"{order}{end}": ("input", np.array([0.2, 0.7]) + shift)
                             for order in ("first", "total") for end, shift in (("", 0), ("_low", -0.1), ("_high", 0.1))},
                            {"input": ["wrench", "friction"]})
        ax = charts.plot_shares(shares)
        self.assertEqual([t.get_text() for t in ax.get_yticklabels()], ["friction", "wrench"])
        by_name = {line.get_label(): line.get_xdata() for line in ax.lines}
        np.testing.assert_allclose(by_name["alone (first order)"], [70, 20])

    def test_units_for_people(self):
        for unit, value, shown, name in (("m", 80e-6, 80, "µm"), ("m", 0.03, 30, "mm"), ("m", 2000.0, 2000, "m"), ("W", 900.0, 900, "W"),
                                         ("W", 2400.0, 2.4, "kW"), ("K", 293.15, 20, "°C"), ("N", 5e4, 50, "kN"),
                                         ("s", DAY, 1, "days"), ("1", 0.12, 0.12, ""), ("N m", 644.0, 644, "N·m")):
            values, word = charts.scaled(xr.DataArray([value], attrs={"units": unit}))
            self.assertEqual(word, name)
            self.assertAlmostEqual(float(values[0]), shown, places=9)

    def test_settings_are_put_back(self):
        before = dict(plt.rcParams)
        charts.plot_clamp(history())
        self.assertEqual(dict(plt.rcParams), before)


if __name__ == "__main__":
    unittest.main()
