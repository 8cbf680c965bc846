"""Makes own_simpy.json: three fairs simulated by SimPy, a program that we did not write, from the description of the model alone.

Needs SimPy 2.3.1 (Debian: python3-simpy) and nothing else. Run it in this folder:  python3 regenerate.py
With  --rate 200  it writes no file and prints as JSON how many of 200 fairs of each scenario SimPy manages in a second of one core;
`go test -bench SimPy` asks for that and runs the same fairs itself.

A fair: people come in a Poisson stream whose pace is one number per hour, the whole day being fuller or emptier by a gamma factor of mean 1 and the
given coefficient of variation. Desk, then a share leaves; test; explanation. One line for each station, first come first served. A screener takes
a meter before a test; after it the person goes on, the screener wipes, then is free, and the meter is wet for a while longer. With one meter for
each screener the screener so waits for it. Waits are those of people who are tested, in all lines, pooled over all days. The error of the mean is
that of a ratio estimator over days, the error of the 90th percentile comes from 20 groups of days.
"""
import json
import math
import random
import sys
import time

from SimPy.Simulation import Process, Resource, Simulation, hold, release, request

FAIRS = 3000

SCENARIOS = [
    {"name": "one meter each", "hours": [27, 31.5, 19.8, 11.7], "scatter": 0.2, "posts": [2, 4, 3], "meters": 4,
     "desk": [4, 0.22], "test": [6, 0.21], "repeat": [4, 0.25], "explain": [4, 0.22], "referral": [12, 0.17], "wipe": 0.5, "wet": 2,
     "ends": 0.21, "repeats": 0.04, "referred": 0.15},
    {"name": "shared meters", "hours": [20, 30, 10], "scatter": 0, "posts": [2, 3, 2], "meters": 4,
     "desk": [3, 0.5], "test": [5, 0.4], "repeat": [5, 0.3], "explain": [3, 0.6], "referral": [10, 0.3], "wipe": 1, "wet": 4,
     "ends": 0.1, "repeats": 0.1, "referred": 0.25},
    {"name": "few meters, many come", "hours": [15, 15, 40, 15], "scatter": 0.35, "posts": [3, 6, 4], "meters": 5,
     "desk": [4, 0.22], "test": [6, 0.21], "repeat": [4, 0.25], "explain": [5, 0.8], "referral": [15, 0.5], "wipe": 0.5, "wet": 1,
     "ends": 0.3, "repeats": 0.04, "referred": 0.1},
]


def log_normal(rng, law):
    mean, cv = law
    v = math.log(1 + cv * cv)
    return rng.lognormvariate(math.log(mean) - v / 2, math.sqrt(v))


class Person(Process):
    def go(self, fair):
        s, rng = fair.s, fair.rng
        ends, repeats, referred = rng.random() < s["ends"], rng.random() < s["repeats"], rng.random() < s["referred"]
        wait, came = 0.0, self.sim.now()
        yield request, self, fair.desk
        wait += self.sim.now() - came
        yield hold, self, log_normal(rng, s["desk"])
        yield release, self, fair.desk
        if not ends:
            came = self.sim.now()
            yield request, self, fair.test
            yield request, self, fair.meters
            wait += self.sim.now() - came
            yield hold, self, log_normal(rng, s["test"]) + (log_normal(rng, s["repeat"]) if repeats else 0)
            # The post and the meter are given back later, by the cleaning, which holds them in the person's stead.
            clean = Stay(sim=self.sim)
            self.sim.activate(clean, clean.go(fair, self))
            came = self.sim.now()
            yield request, self, fair.explain
            wait += self.sim.now() - came
            yield hold, self, log_normal(rng, s["referral"] if referred else s["explain"])
            yield release, self, fair.explain
            fair.waits.append(wait)
        fair.last = max(fair.last, self.sim.now())


class Stay(Process):
    """Gives back what a person took, in time."""

    def go(self, fair, person):
        yield hold, self, fair.s["wipe"]
        yield from give_back(self, fair.test, person)
        yield hold, self, fair.s["wet"]
        yield from give_back(self, fair.meters, person)


def give_back(process, resource, person):
    # SimPy 2 releases what the releasing process holds; so the person's name is exchanged for that of the process.
    resource.activeQ.remove(person)
    resource.activeQ.append(process)
    yield release, process, resource


class Fair(Simulation):
    def __init__(self, s, rng):
        super().__init__()
        self.initialize()
        self.s, self.rng, self.waits, self.last = s, rng, [], 0.0
        self.desk = Resource(capacity=s["posts"][0], sim=self)
        self.test = Resource(capacity=s["posts"][1], sim=self)
        self.explain = Resource(capacity=s["posts"][2], sim=self)
        self.meters = Resource(capacity=s["meters"], sim=self)
        factor = 1.0
        if s["scatter"] > 0:
            k = 1 / s["scatter"] ** 2
            factor = rng.gammavariate(k, 1 / k)
        for hour, people in enumerate(s["hours"]):
            at = rng.expovariate(1)
            while at < people * factor:
                p = Person(sim=self)
                self.activate(p, p.go(self), at=60 * (hour + at / (people * factor)))
                at += rng.expovariate(1)
        self.simulate(until=100000)


def quantile(xs, p):
    xs = sorted(xs)
    return xs[max(math.ceil(p * len(xs)), 1) - 1]


def rates(fairs):
    out = {}
    for i, s in enumerate(SCENARIOS):
        rng = random.Random(2000 + i)
        start = time.process_time()
        for _ in range(fairs):
            Fair(s, rng)
        out[s["name"]] = fairs / (time.process_time() - start)
    json.dump(out, sys.stdout)


def main():
    if sys.argv[1:2] == ["--rate"]:
        rates(int(sys.argv[2]))
        return
    rows = []
    for i, s in enumerate(SCENARIOS):
        rng = random.Random(1000 + i)
        start = time.process_time()
        days = [Fair(s, rng) for _ in range(FAIRS)]
        took = time.process_time() - start
        people = sum(len(d.waits) for d in days)
        mean = sum(sum(d.waits) for d in days) / people
        squares = sum((sum(d.waits) - mean * len(d.waits)) ** 2 for d in days)
        groups = [quantile([w for d in days[g * FAIRS // 20:(g + 1) * FAIRS // 20] for w in d.waits], 0.9) for g in range(20)]
        middle = sum(groups) / 20
        last = [d.last for d in days]
        last_mean = sum(last) / FAIRS
        rows.append({
            "scenario": s, "tested": people / FAIRS, "mean": mean, "mean_se": math.sqrt(squares * FAIRS / (FAIRS - 1)) / people,
            "p90": quantile([w for d in days for w in d.waits], 0.9), "p90_se": math.sqrt(sum((g - middle) ** 2 for g in groups) / 19 / 20),
            "last": last_mean, "last_se": math.sqrt(sum((x - last_mean) ** 2 for x in last) / (FAIRS - 1) / FAIRS),
        })
        print("%s: %.0f fairs a second, mean wait %.3f" % (s["name"], FAIRS / took, mean))
    out = {
        "id": "own_simpy", "source": "scenarios made for this project, simulated by SimPy 2.3.1 (Debian python3-simpy)",
        "how_obtained": "regenerate.py in this folder, %d fairs each; rows: pooled waits of people tested in all lines, minutes" % FAIRS,
        "tolerance": "4 combined standard errors", "rows": rows,
    }
    with open("own_simpy.json", "w") as f:
        json.dump(out, f, indent=1)
        f.write("\n")


if __name__ == "__main__":
    main()
