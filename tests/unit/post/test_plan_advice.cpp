// What a plan of retorques advises, in its four situations; and that none of it can be read as leave to go without a
// re-check.
#include "post/plan_advice.hpp"
#include "post/plan_text.hpp"
#include "post/table.hpp"

#include "tests/support/close.hpp"
#include "tests/support/plan_example.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cctype>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

Plan kept() {
  Plan p = plan_example();
  p.cases = {plan_case({}, 130e3), plan_case({5}, 147e3), plan_case({40}, 130.5e3), plan_case({5, 40}, 147e3)};
  return p;
}
/// The first instant holds best, the second too, the third comes too late.
Plan one() {
  Plan p = plan_example();
  p.cases = {plan_case({}, 90e3, 60), plan_case({5}, 125e3), plan_case({40}, 130e3), plan_case({80}, 118e3, 60),
             plan_case({5, 40}, 140e3)};
  return p;
}
Plan two() {
  Plan p = plan_example();
  p.cases = {plan_case({}, 90e3, 60), plan_case({5}, 110e3, 90), plan_case({40}, 115e3, 95), plan_case({5, 40}, 121e3)};
  return p;
}
Plan none() { return plan_example(); }

std::string said(const Plan& p, System system = System::Si) {
  std::string all;
  for (const std::string& s : recommendation(p, advise(p), system)) {
    all += s + " ";
  }
  return all;
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
  return text;
}

PlanFile file(const Plan& p) { return {"p.h5", "0.1", "abc", "2026-01-02T03:04:05Z", std::string(64, 'a'), "d", p}; }

} // namespace

TEST_CASE("plan advice: without a retorque the clamp is kept") {
  const Plan p = kept();
  const PlanAdvice a = advise(p);
  CHECK(a.situation == Situation::Kept);
  CHECK(a.latest == 2U);
  CHECK(a.earliest == 1U);
  CHECK(a.widest == 1U);
  CHECK_FALSE(a.too_late.has_value());
  const std::string text = said(p);
  CHECK(has(text,
            "Without a retorque the lowest clamp over the 100 days simulated is 130.0 kN (stud 3), 8.33 % above the "
            "required clamp of 120.0 kN."));
  CHECK(has(text, "re-check and retorque at the interval of the makers' instructions"));
  CHECK(has(text, "changes nothing about it"));
}

TEST_CASE("plan advice: one retorque keeps it, and the latest is a limit, not the date to aim for") {
  const Plan p = one();
  const PlanAdvice a = advise(p);
  CHECK(a.situation == Situation::One);
  CHECK(a.holds == std::vector<char>{0, 1, 1, 0, 1});
  CHECK(a.latest == 2U);
  CHECK(a.earliest == 1U);
  CHECK(a.widest == 2U);
  CHECK(a.too_late == 3U);
  const std::string text = said(p);
  CHECK(has(text,
            "Without a retorque the weakest stud falls below the required clamp of 120.0 kN after 60.0 days and 3000 "
            "km."));
  CHECK(has(text,
            "The latest single retorque tried with which the required clamp is kept all along is done after 40.5 days "
            "and 2025 km. With the next one tried, 80 d, it is not."));
  CHECK(has(text,
            "Just before it the weakest stud has 130.0 kN, just after it 178.0 kN; from then to the end of the run it "
            "loses another 33.00 kN and is left with 131.0 kN."));
  // 1 - 130/180
  CHECK(has(text,
            "By then 27.8 % of the weakest stud's clamp is gone since the wrench was last on it. It takes 520.0 to "
            "540.0 N·m to start the nuts turning, against 644.0 N·m set: a wrench at the set torque moves every "
            "nut."));
  CHECK(has(text,
            "Recommendation: retorque after 40.5 days or 2025 km, whichever comes first, where the lowest clamp stays "
            "highest (130.0 kN, 8.33 % above the required clamp of 120.0 kN)"));
  CHECK(has(text,
            "Two retorques keep more: with those after 5.50 days and 275 km and again after 40.5 days and 2025 km the "
            "clamp never falls below 140.0 kN."));
  CHECK_FALSE(has(text, "too soon"));
  CHECK(has(text, "a limit and no date to aim for"));
  CHECK(has(text, "the shorter one holds"));
  CHECK_FALSE(has(text, "Too early"));
}

TEST_CASE("plan advice: a retorque that comes too early to last is told of") {
  Plan p = one();
  p.cases[1] = plan_case({5}, 110e3, 90);
  CHECK(advise(p).earliest == 2U);
  CHECK(has(said(p),
            "Too early does not do alone: with the one after 5.50 days and 275 km the weakest stud falls below"));
}

TEST_CASE("plan advice: that an earlier retorque can make the recommended one useless is told of") {
  Plan p = one();
  p.cases[4] = plan_case({5, 40}, 117e3, 92);
  p.cases[4].retorques[1].moved = 2;
  const std::string text = said(p);
  CHECK(has(text,
            "in the case 5 d + 40 d it moves 2 of 10, and the weakest stud falls below the required clamp of 120.0 kN "
            "after 92.0 days and 4600 km."));
  CHECK_FALSE(has(text, "Two retorques keep more"));
  p.cases[4].status = RunStatus::Failed; // proves nothing
  CHECK_FALSE(has(said(p), "too soon"));
}

TEST_CASE("plan advice: two retorques keep it where one does not") {
  const Plan p = two();
  const PlanAdvice a = advise(p);
  CHECK(a.situation == Situation::Two);
  CHECK(a.latest == 3U);
  CHECK(a.pairs_tried);
  const std::string text = said(p);
  CHECK(has(text, "No single retorque of those tried"));
  CHECK(has(text, "The latest pair tried"));
  CHECK(has(text, "after 5.50 days and 275 km and again after 40.5 days and 2025 km"));
  CHECK(has(text, "Just before the first the weakest stud has 147.5 kN"));
  CHECK(has(text, "Just before the second the weakest stud has 130.0 kN"));
  CHECK(has(text, "By then 27.0 % of the weakest stud's clamp")); // 1 - 130/178: since the first retorque
  CHECK(has(text, "the shorter one holds"));
}

TEST_CASE("plan advice: the latest pair is that with the latest first retorque, then the latest second") {
  Plan p = two();
  p.cases = {plan_case({}, 90e3, 60),    plan_case({5}, 110e3, 90),     plan_case({20}, 115e3, 95),
             plan_case({40}, 118e3, 60), plan_case({5, 20}, 122e3),     plan_case({5, 40}, 123e3),
             plan_case({20, 40}, 121e3), plan_case({20, 60}, 118e3, 60)};
  const PlanAdvice a = advise(p);
  CHECK(a.latest == 6U);
  CHECK(a.earliest == 4U);
  CHECK(a.widest == 5U);
  CHECK(a.too_late == 7U);
}

TEST_CASE("plan advice: no case holds, so the joint must change") {
  Plan p = none();
  const PlanAdvice a = advise(p);
  CHECK(a.situation == Situation::NoneHolds);
  CHECK_FALSE(a.latest.has_value());
  std::string text = said(p);
  CHECK(has(text, "the joint must change, not the interval"));
  CHECK(has(text, "does not keep its clamp"));
  CHECK(has(text, "makers' instructions decide"));
  CHECK_FALSE(has(text, "Earlier ones can be tried"));
  CHECK_FALSE(has(text, "not tried (option --retorques"));

  p.cases.pop_back(); // no pair
  CHECK(has(said(p), "Two retorques were not tried"));
  p.cases[0].below_time = 2 * kPlanDay;
  CHECK(advise(p).tried_too_late);
  CHECK(has(said(p), "Earlier ones can be tried"));
  p.cases[0].below_time = 0;
  CHECK_FALSE(advise(p).tried_too_late);
  CHECK(has(said(p), "from the start"));
}

TEST_CASE("plan advice: a case that spoils studs or opens the joint does not hold, whatever its clamp") {
  for (std::size_t PlanCase::*member :
       {&PlanCase::stud_yield, &PlanCase::stud_fatigue, &PlanCase::open, &PlanCase::gap, &PlanCase::nut_free}) {
    Plan p = one();
    p.cases[2].*member = 1;
    CHECK(advise(p).latest == 1U);
    CHECK_FALSE(troubles(p.cases[2]).empty());
    CHECK(has(flat(to_text(file(p), System::Si)), "40 d: " + troubles(p.cases[2]) + "."));
  }
}

TEST_CASE("plan advice: a run that failed is no proof of anything") {
  Plan p = one();
  p.cases[2].status = RunStatus::Failed;
  p.cases[2].status_text = "at 5 s: no equilibrium";
  const PlanAdvice a = advise(p);
  CHECK(a.latest == 1U);
  CHECK(a.failed == 1);
  CHECK(has(said(p), "The run of the next one, 40 d, failed."));
  CHECK(has(said(p), "1 of 5 runs failed and say nothing."));
  CHECK(has(to_text(file(p), System::Si), "no equilibrium"));
}

TEST_CASE("plan advice: the reading tells what a wrench would have shown") {
  Plan p = one();
  PlanRetorque& r = p.cases[2].retorques[0];
  r.moved = 4;
  CHECK(has(reading_sentence(p, p.cases[2], 0, System::Si), "moves 4 of 10 nuts and clicks on the others"));
  r.moved = 0;
  r.check_torque_lowest = 650;
  r.check_torque_highest = 670;
  CHECK(has(reading_sentence(p, p.cases[2], 0, System::Si),
            "clicks on every nut without moving it and says nothing about that loss"));
  CHECK(has(reading_sentence(p, p.cases[2], 0, System::Us), "It takes 479.4 to 494.2 lbf·ft"));
}

TEST_CASE("plan advice: nothing in any situation can be read as leave to go without a re-check") {
  for (const Plan& p : {kept(), one(), two(), none()}) {
    for (const System system : {System::Si, System::Us}) {
      const std::string text = lower(said(p, system));
      CAPTURE(text);
      for (const char* word :
           {"skip",           "not needed", "no need",     "needless", "necessary",   "left out",
            "leave out",      "omit",       "drop",        "dispense", "do without",  "safe",
            "released",       "is enough",  "superfluous", "spare",    "no re-check", "without a re-check",
            "no retorque is", "instead of"}) {
        CAPTURE(word);
        CHECK(text.find(word) == std::string::npos);
      }
      CHECK(has(text, "makers' instructions"));
      // In the whole text the word stands once: where the caution forbids it.
      const std::string whole = lower(to_text(file(p), system));
      CHECK(has(whole, "never skip a re-check"));
      CHECK(whole.find("skip") == whole.rfind("skip"));
    }
  }
}

TEST_CASE("plan text: at most 100 columns, every case and every retorque once") {
  Plan p = one();
  p.cases[0].status_text = "";
  p.cases.push_back(plan_case({5, 80}, 140e3));
  p.cases.back().retorques[1].asked_time = kNotANumber;
  p.cases.back().retorques[1].asked_distance = 80e3;
  for (const System system : {System::Si, System::Us}) {
    const std::string text = to_text(file(p), system);
    std::size_t start = 0;
    while (start < text.size()) {
      const std::size_t end = text.find('\n', start);
      CHECK(width(text.substr(start, end - start)) <= 100);
      start = end + 1;
    }
  }
  const std::string text = flat(to_text(file(p), System::Si));
  CHECK(has(text, " without 90.00 100 days 60.0 days 91.00 93.00 33.00 NO "));
  CHECK(has(text, " 5 d 125.0 100 days never 126.0 128.0 33.00 yes "));
  CHECK(has(text, " 5 d + 80 km 140.0 "));
  CHECK(has(text, " 40 d 40.5 days 2025 130.0 132.0 178.0 47.00 520-540 644 10/10 "));
  CHECK(has(text, " 80 km after 5 d "));
  CHECK(has(text, "an invented warning"));
  CHECK(has(text, "required clamp 120.0 kN"));
  CHECK(has(flat(to_text(file(p), System::Us)), " 5 d + 49.71 mi "));
  CHECK(has(to_text(file(p), System::Si, true), "\x1b[1;31m"));
}

TEST_CASE("plan data: JSON with everything, SI, what there is none of null") {
  const auto j = nlohmann::json::parse(to_json(file(one())));
  CHECK(j["advice"]["situation"] == "one");
  CHECK(j["advice"]["latest"] == "40 d");
  CHECK(j["advice"]["widest"] == "40 d");
  CHECK(j["advice"]["sentences"].size() > 4);
  CHECK(j["required_clamp"] == 120e3);
  CHECK(j["units"]["required_clamp"] == "N");
  REQUIRE(j["cases"].size() == 5);
  CHECK(j["cases"][0]["below_time"] == 60 * kPlanDay);
  CHECK(j["cases"][1]["below_time"].is_null());
  CHECK(j["cases"][1]["kept"] == true);
  CHECK(j["cases"][1]["lowest_stud"] == 3);
  CHECK(j["cases"][4]["retorques"][1]["asked_time"] == 40 * kPlanDay);
  CHECK(j["cases"][4]["retorques"][1]["asked_distance"].is_null());
  CHECK(j["cases"][0]["clamp"].size() == j["time"].size());
  CHECK(j["cautions"].size() == 3);
}

TEST_CASE("plan advice: a curve jumps where the retorque was done") {
  const Plan p = one();
  const Curve c = curve(p, p.cases[2]);
  CHECK(c.time == std::vector<double>{0, 40.5 * kPlanDay, 40.5 * kPlanDay, 50 * kPlanDay, 100 * kPlanDay});
  CHECK(c.clamp == std::vector<double>{180e3, 130e3, 178e3, 150e3, 131e3});
  CHECK(c.distance[1] == c.distance[2]);
  CHECK(curve(p, p.cases[0]).time == p.time);
}

TEST_CASE("plan advice: where the wrench stretches the studs no case is good, whatever clamp it keeps") {
  Plan p = kept();
  for (PlanCase& c : p.cases) {
    c.utilisation_tightening = 1.076;
  }
  const PlanAdvice a = advise(p);
  CHECK(a.holds == std::vector<char>{0, 0, 0, 0});
  CHECK(a.overtightened);
  CHECK(a.situation == Situation::NoneHolds);
  const std::vector<std::string> sentences = recommendation(p, a, System::Si);
  CHECK(sentences.front() == "STUDS ARE STRETCHED FOR GOOD BY THE WRENCH in every case (stress 1.08 of yield): no case "
                             "is good, whatever clamp it keeps.");
  CHECK(has(said(p), "do not tighten to this torque, and replace studs"));
  CHECK_FALSE(has(said(p), "above the required clamp"));
  const std::string text = to_text(file(p), System::Si);
  CHECK_FALSE(has(text, "yes"));
  CHECK(has(text, "the wrench stretches a stud for good"));
  CHECK(nlohmann::json::parse(to_json(file(p)))["cases"][0]["kept"] == false);

  for (PlanCase& c : p.cases) {
    c.utilisation_tightening = 0.97;
    c.proof_share = 1.02;
  }
  CHECK(has(said(p), "THE WRENCH PULLS STUDS ABOVE THEIR PROOF LOAD in every case (1.02 of it)"));
  // A retorque to another torque only.
  Plan later = kept();
  later.cases[1].utilisation_tightening = 1.2;
  CHECK_FALSE(advise(later).overtightened);
  CHECK(advise(later).holds == std::vector<char>{1, 0, 1, 1});
  CHECK(troubles(later.cases[1]) == "the wrench stretches a stud for good");
}
