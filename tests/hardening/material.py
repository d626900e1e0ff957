"""Files that the parts damage, continue or write again: made once, small, and whole."""

from harness import SCENARIOS


def edit(text, old, new):
    assert text.count(old) == 1, old
    return text.replace(old, new)


class Material:
    def __init__(self, bench):
        self.bench = bench
        self.dir = bench.folder("material")

    def scenario(self, name, **edits):
        text = (SCENARIOS / name).read_text()
        for old, new in edits.get("edits", []):
            text = edit(text, old, new)
        return text

    def make(self):
        """A week of a round, a study of six cases in two parts and whole, a plan, a fit, a store."""
        d, b = self.dir, self.bench
        week = [("weeks: 4", "weeks: 1")]
        study = self.scenario("study-washers.yaml", edits=week + [("values: [2, 3, 4, 5, 6]", "values: [3, 4, 5]"),
                                                                  ("values: [1, 2, 3]", "values: [1, 2]")])
        (d / "study.yaml").write_text(study)
        (d / "wheel.yaml").write_text(study[:study.index("\nvary:")] + "\n")
        for name in ("fit-painted-coupon.yaml", "fit-painted-coupon.csv", "fleet-records.csv", "fleet-checks.csv"):
            (d / name).write_bytes((SCENARIOS / name).read_bytes())
        self.fit = ["fit", d / "fit-painted-coupon.yaml", "--data", d / "fit-painted-coupon.csv", "--free",
                    "catalogue/coatings/sample paint/compaction_cold=0.01..0.15", "--starts", "1", "--quiet"]
        self.plan = ["plan", d / "wheel.yaml", "--after", "2 d", "--retorques", "1", "--quiet"]
        self.records = ["records", d / "fleet-records.csv", "--torque", "475 lbf*ft", "--studs", "10"]
        for args in (["simulate", d / "wheel.yaml", "-o", d / "run.h5", "--quiet"],
                     ["sweep", d / "study.yaml", "-o", d / "whole.h5", "--quiet"],
                     ["sweep", d / "study.yaml", "-o", d / "part1.h5", "--part", "1/2", "--quiet"],
                     ["sweep", d / "study.yaml", "-o", d / "part2.h5", "--part", "2/2", "--quiet"],
                     ["merge", d / "part1.h5", d / "part2.h5", "-o", d / "merged.h5"],
                     [*self.plan, "-o", d / "plan.h5"],
                     [*self.fit, "-o", d / "fit.h5"]):
            b.must(b.clampfade(*args, cwd=d))
        # A wheel a year later, and what was found on it then: what a store can be added to.
        for name, more in (("fleet-records.csv", "fleet-more.csv"), ("fleet-checks.csv", "fleet-more-checks.csv")):
            (d / more).write_text((d / name).read_text().replace("2024-", "2025-"))
        self.more_records = ["records", d / "fleet-more.csv", *self.records[2:]]
        wheel = ["--vehicle", "demo vehicle 31", "--axle", "front", "--wheel"]
        self.other_wheel = [*wheel, "right", "--tightened", "2024-04-11", "--odometer", "81300 km"]
        store = b.clampfade(*self.records, "--store", d / "fleet.sqlite", cwd=d)
        assert store.code in (0, 1), store
        b.must(b.clampfade("fleet", "add-readings", d / "fleet-checks.csv", "--store", d / "fleet.sqlite", cwd=d))
        for name in ("run.h5", "whole.h5"):
            b.must(b.clampfade("fleet", "add-prediction", d / name, "--store", d / "fleet.sqlite", *wheel, "left",
                               "--tightened", "2024-04-09", "--odometer", "81250 km", cwd=d))
        return self
