"use strict";
// Guided lessons: a question, a prediction that must be made, what to try, and what it shows. `set` is what a button puts
// in place of the default wheel; `end` and the times of `acts` in days. `columns` of the table of tries, the one that answers the
// question first (kColumns in page.js). Quantities are written {kind:SI value} and shown in the units chosen, {~kind:value} rounded.

const kLessons = [
  {
    name: "Clamp is stretch", columns: ["stretch", "first"], hides: true,
    question: "Ten studs are tightened to {torque:644} and each presses as hard as {~mass:18600} weigh. How much longer is a stud then than at rest?",
    options: ["About {~gap:0.02e-3}, a fifth of a hair", "About {~gap:0.2e-3}, two or three hairs", "About {~gap:2e-3}, a thick coin", "Not at all: friction holds the nut, not stretch"],
    right: 1,
    tries: [
      {label: "Tighten to {torque:644}", set: {route: "parked"}, end: 0.1},
      {label: "Only half of the torque", set: {route: "parked", torque: 322}, end: 0.1},
      {label: "{torque:644} on dry, rusty threads (friction 0.18)", set: {route: "parked", thread_friction: 0.18, bearing_friction: 0.18}, end: 0.1},
      {label: "{torque:644}, and a {~gap:40e-3} ring under the nut", set: {route: "parked", spacer: 0.04}, end: 0.1}
    ],
    shows: `<p>The stud is a stiff spring, pulled longer by about a quarter of a millimetre (a hundredth of an inch). <strong>That stretch is the clamp.</strong> Nothing else
      presses the wheel on. Half of the torque is half of the stretch and half of the clamp.</p>
      <p>Friction in the thread and under the nut eats most of the torque: with more friction the same click of the wrench stretches the stud
      less. The wrench measures torque; the wheel needs stretch. A longer stud must stretch further for the same clamp: keep that in mind for the
      next lesson.</p>`
  },
  {
    name: "Lost thickness, grip length", columns: ["share", "lost", "stretch"],
    question: "The faces and the paint between head and nut give way by a few hundredths of a millimetre (a thou or two). Two wheels, same paint, same torque: one with a grip of {~gap:56e-3}, the other with a {~gap:40e-3} ring under the nut. Which keeps the larger share of its clamp?",
    options: ["The short one: less material that can give way", "The long one", "Both the same: the same paint is lost"],
    right: 1,
    tries: [
      {label: "Short grip, one week", set: {}, end: 7},
      {label: "{~gap:40e-3} ring under the nut, one week", set: {spacer: 0.04}, end: 7},
      {label: "Thicker discs ({~gap:25e-3}), one week", set: {disc_thickness: 0.025}, end: 7},
      {label: "Spring washers under the nut, one week", set: {spring_washers: true}, end: 7}
    ],
    shows: `<p>The paint thins by much the same on each wheel: {film:40e-6} to {film:50e-6}. The short stud was stretched by {film:234e-6}; a fifth of that is gone. The joint springs
      back a little as it is relieved, so of the clamp it is a sixth. The long stud was stretched by {film:346e-6}, and loses a tenth of its clamp.
      <strong>Clamp lost = thickness lost × stiffness of the joint.</strong></p>
      <p>So long studs and spring washers forgive more. Washers make the joint softest of all, but they set a little themselves, and
      they must never be added to a wheel that was not made for them: follow the makers' instructions.</p>`
  },
  {
    name: "Paint and heat", columns: ["share", "disc", "lost"],
    question: "{film:80e-6} of a topcoat that never cross-links, on four faces. After four weeks parked, on the highway, or on a kerbside round with 770 stops a day: where is most clamp gone?",
    options: ["The same everywhere: it is the same paint", "On the highway: it drives six times as far", "On the round: its brakes make the hub hot"],
    right: 2,
    tries: [
      {label: "Parked, four weeks", set: {route: "parked"}, end: 28},
      {label: "Highway, four weeks", set: {route: "highway"}, end: 28},
      {label: "Kerbside round, four weeks", set: {}, end: 28},
      {label: "The round with a cross-linked topcoat", set: {paint: "cross-linked"}, end: 28},
      {label: "The round for twelve weeks", set: {}, end: 84},
      {label: "Cross-linked topcoat for twelve weeks", set: {paint: "cross-linked"}, end: 84},
      {label: "The round with a thin primer ({film:25e-6})", set: {paint: "primer", paint_thickness: 25e-6}, end: 28},
      {label: "The round with bare faces", set: {paint: "bare"}, end: 28}
    ],
    shows: `<p>Parked, the wheel loses little, and most of that is rough faces settling. The highway adds some. On the round the brakes heat
      hub and discs far past {temperature:338.15}, where this paint softens: it <strong>creeps</strong> within the first day, and then, hour by hot hour, it <strong>flows
      out</strong> of the joint. That second loss does not stop: look at twelve weeks.</p>
      <p>A cross-linked paint (softens about {temperature:353.15}) creeps more at first and cannot flow: between week four and week twelve it loses next to nothing. A thin primer
      hardly counts, bare faces only settle. A mating face without thick paint is worth more than any torque. What your wheels may wear there is
      written in the makers' instructions.</p>`
  },
  {
    name: "Side slip: the runaway", columns: ["margin", "left", "share"],
    question: "A bare wheel was run on with a quarter of its torque ({torque:161}), then sent on the round. What happens on the first day?",
    options: ["It loses a few percent of its clamp, like any new bare wheel", "Nothing: threads lock themselves, so a nut cannot turn back", "The wheel slides sideways on the hub and its nuts run off"],
    right: 2,
    tries: [
      {label: "Full torque, first day", set: {paint: "bare"}, end: 1},
      {label: "Half of the torque", set: {paint: "bare", torque: 322}, end: 1},
      {label: "A quarter of the torque", set: {paint: "bare", torque: 161}, end: 1},
      {label: "A quarter of the torque, with sleeves", set: {paint: "bare", torque: 161, sleeve: true}, end: 1}
    ],
    shows: `<p>Look at the <strong>slip margin</strong>: friction of the clamped faces over what load, brakes and kerbs ask of them. Above 1 the faces hold and no nut
      turns. Below 1 the wheel slides on the hub a little in each turn, the studs bend, and each slide lets every nut creep back. That
      costs clamp, which means more slip: <strong>it feeds itself</strong>, here within the first hours on the road. The loss is not a slope but a cliff.</p>
      <p><strong>Half of the torque is not good enough, though it held.</strong> It held on one mild day. The required clamp lies far above bare slip, and on purpose:
      <span data-why=""></span> Half of the torque is below that line from the start.</p>
      <p>The sleeve fills the hole, so that the wheel can slide less than the stud bends. The nuts stay, but the studs are bent in each turn and will
      break of fatigue: it buys time to find the fault and nothing else. This run-off is the worst case (all of the play in every turn, nothing rusty or jammed);
      a real wheel may take longer, and nobody can say how much.</p>`
  },
  {
    name: "The second loss", columns: ["since", "after", "left"],
    question: "The wheel loses {~force:25e3} on its first day. It is then retorqued, and drives on for a week. How much does it lose in that week?",
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
      gives back the big first loss at the price of the small second one. In its second week the retorqued wheel even loses a little more than the one left alone, since
      more clamp drives more creep; it stands far higher for all that.</p>
      <p>And it is not optional for all that. Without it the wheel is below its required clamp after some weeks. This paint goes on flowing out of the hot joint, so that even
      the retorqued wheel comes close to the line, and needs another. That line lies above bare slip on purpose: <span data-why=""></span> One stud with more friction
      than its neighbours, or dirt under a nut, starts lower and gets there sooner. So the re-check is done when the makers' instructions say, whatever a prediction says.</p>`
  }
];
