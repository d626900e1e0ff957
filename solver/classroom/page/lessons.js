"use strict";
// Guided lessons: a question, a prediction that must be made, what to try, and what it shows. `set` is what a button puts
// in place of the default wheel; `end` and the times of `acts` in days.

const kLessons = [
  {
    name: "Clamp is stretch", column: "stretch",
    question: "Ten studs are tightened to 644 N·m (475 lbf·ft) and each presses as hard as 18 tonnes weigh. How much longer is a stud then than at rest?",
    options: ["About 0.02 mm, a fifth of a hair", "About 0.2 mm, two or three hairs", "About 2 mm, a thick coin", "Not at all: friction holds the nut, not stretch"],
    right: 1,
    tries: [
      {label: "Tighten to 644 N·m", set: {route: "parked"}, end: 0.1},
      {label: "Only half of the torque", set: {route: "parked", torque: 322}, end: 0.1},
      {label: "644 N·m on dry, rusty threads (friction 0.18)", set: {route: "parked", thread_friction: 0.18, bearing_friction: 0.18}, end: 0.1},
      {label: "644 N·m, and a 40 mm ring under the nut", set: {route: "parked", spacer: 0.04}, end: 0.1}
    ],
    shows: `<p>The stud is a stiff spring, pulled longer by about a quarter of a millimetre. <strong>That stretch is the clamp.</strong> Nothing else
      presses the wheel on. Half of the torque is half of the stretch and half of the clamp.</p>
      <p>Friction in the thread and under the nut eats most of the torque: with more friction the same click of the wrench stretches the stud
      less. The wrench measures torque; the wheel needs stretch. A longer stud must stretch further for the same clamp: keep that in mind for the
      next lesson.</p>`
  },
  {
    name: "Lost thickness, grip length", column: "lost",
    question: "The faces and the paint between head and nut give way by a few hundredths of a millimetre. Two wheels, same paint, same clamp: one with a grip of 56 mm, the other with a 40 mm ring under the nut. Which keeps the larger share of its clamp?",
    options: ["The short one: less material that can give way", "The long one", "Both the same: the same paint is lost"],
    right: 1,
    tries: [
      {label: "Short grip, one week", set: {}, end: 7},
      {label: "40 mm ring under the nut, one week", set: {spacer: 0.04}, end: 7},
      {label: "Thicker discs (25 mm), one week", set: {disc_thickness: 0.025}, end: 7},
      {label: "Spring washers under the nut, one week", set: {spring_washers: true}, end: 7}
    ],
    shows: `<p>The paint thins by about the same few hundredths of a millimetre on each wheel. On the short stud, stretched by a quarter of a millimetre,
      that is a sixth of the whole stretch; on the long one it is a tenth. <strong>Clamp lost = thickness lost × stiffness of the joint.</strong></p>
      <p>So long studs and spring washers forgive more. Washers make the joint softest of all, but they set a little themselves, and
      they must never be added to a wheel that was not made for them: follow the makers' instructions.</p>`
  },
  {
    name: "Paint and heat", column: "lost",
    question: "80 µm of a topcoat that never cross-links, on four faces. After four weeks parked, on the highway, or on a kerbside round with 770 stops a day: where is most clamp gone?",
    options: ["The same everywhere: it is the same paint", "On the highway: it drives six times as far", "On the round: its brakes make the hub hot"],
    right: 2,
    tries: [
      {label: "Parked, four weeks", set: {route: "parked"}, end: 28},
      {label: "Highway, four weeks", set: {route: "highway"}, end: 28},
      {label: "Kerbside round, four weeks", set: {}, end: 28},
      {label: "The round with a cross-linked topcoat", set: {paint: "cross-linked"}, end: 28},
      {label: "The round with a thin primer (25 µm)", set: {paint: "primer", paint_thickness: 25e-6}, end: 28},
      {label: "The round with bare faces", set: {paint: "bare"}, end: 28}
    ],
    shows: `<p>Parked, the wheel loses little, and most of that is rough faces settling. The highway adds some. On the round the brakes heat
      hub and discs past the softening point of the paint: it <strong>creeps</strong> within the first day, and then, hour by hot hour, it <strong>flows
      out</strong> of the joint. That second loss does not stop.</p>
      <p>A cross-linked paint creeps as much and more, but then stops. A thin primer hardly counts, bare faces only settle. A mating face without
      thick paint is worth more than any torque. What your wheels may wear there is written in the makers' instructions.</p>`
  },
  {
    name: "Side slip: the runaway", column: "margin",
    question: "A bare wheel was run on with a quarter of its torque (156 N·m), then sent on the round. What happens on the first day?",
    options: ["It loses a tenth of its clamp, like any new wheel", "Nothing: threads lock themselves, so a nut cannot turn back", "The wheel slides sideways on the hub and its nuts run off"],
    right: 2,
    tries: [
      {label: "Full torque, first day", set: {paint: "bare"}, end: 1},
      {label: "Half of the torque", set: {paint: "bare", torque: 322}, end: 1},
      {label: "A quarter of the torque", set: {paint: "bare", torque: 156}, end: 1},
      {label: "A quarter of the torque, with sleeves", set: {paint: "bare", torque: 156, sleeve: true}, end: 1}
    ],
    shows: `<p>Look at the <strong>slip margin</strong>: friction of the clamped faces over what load, brakes and kerbs ask of them. Above 1 the faces hold and no nut
      turns, with full clamp or half. Below 1 the wheel slides on the hub a little in each turn, the studs bend, and each slide lets every nut creep back. That
      costs clamp, which means more slip: <strong>it feeds itself</strong>, here within the first hours on the road. The loss is not a slope but a cliff.</p>
      <p>The sleeve fills the hole, so that the wheel can slide less than the stud bends. The nuts stay, but the studs are bent in each turn and will
      break of fatigue: it buys time to find the fault and nothing else. This run-off is the worst case (all of the play in every turn, nothing rusty or jammed);
      a real wheel may take longer, and nobody can say how much.</p>`
  },
  {
    name: "The second loss", column: "lost",
    question: "The wheel loses 25 kN on its first day. It is then retorqued, and drives on for a week. How much does it lose in that week?",
    options: ["About as much per day as before", "Nothing worth mentioning: the paint has settled, so it is done", "Much less than on the first day, and it goes on"],
    right: 2,
    tries: [
      {label: "First day", set: {}, end: 1},
      {label: "First day, no retorque, one week more", set: {}, end: 8},
      {label: "Retorque after the first day, one week more", set: {}, end: 8, acts: [{kind: "retorque", time: 1}]},
      {label: "Never retorqued, twelve weeks", set: {}, end: 84},
      {label: "Retorque after the first day, then twelve weeks", set: {}, end: 84, acts: [{kind: "retorque", time: 1}]},
      {label: "Retorque on days 1, 28 and 56, twelve weeks", set: {}, end: 84, acts: [{kind: "retorque", time: 1}, {kind: "retorque", time: 28}, {kind: "retorque", time: 56}]}
    ],
    shows: `<p>Faces settle once and paint creeps fast at first, so the second loss is much smaller than the first. <strong>That is why a retorque pays:</strong> it
      gives back the big first loss at the price of the small second one.</p>
      <p>And it is not optional for all that. Without it the wheel is below its required clamp after some weeks. This paint goes on flowing out of the hot joint, so that even
      the retorqued wheel comes close to the line, and needs another. One stud with more friction than its neighbours, or dirt under a nut, starts lower and gets there
      sooner. So the re-check is done when the makers' instructions say, whatever a prediction says.</p>`
  }
];
