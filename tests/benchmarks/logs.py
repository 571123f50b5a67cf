"""What the reader of pressure logs says of a simulated coater that knows none of its curves.

    python -m tests.benchmarks.logs [--each N] [--seed N] [--empty] [--misses]

A coater of `troubleshoot.training` gets one fault (or none), is pumped and shut off, and its log is
written and read as a file. Kinds of log: the pump-down with the rise, the rise alone, the pump-down
alone; gauges: ordinary, one that ends on top, one that ends below, gaps in the log, a slow one.

A firm verdict counts as right if it is what makes the base. "Cannot tell" counts if what makes it
is among what is named. Of each printed number the share of 95 % intervals is counted that hold
what the gauge would have shown without noise.
"""

import argparse
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.readings.pressure.pressures import Analysis, analyse
from troubleshoot.sources.log_file import read_log
from troubleshoot.training.desorption import Stores
from troubleshoot.training.draw import spread
from troubleshoot.training.faults.vacuum import LEAKS, POCKETS, PUMPS, THROTTLES, VAPOURS
from troubleshoot.training.flows import from_room, pumped
from troubleshoot.training.gauge import Gauge, as_felt, readings
from troubleshoot.training.log import pressure_log
from troubleshoot.training.plant import Plant, sound_plant
from troubleshoot.training.run import Run, Stage, simulate

STORIES = {
    "leak": LEAKS,
    "vapour": VAPOURS,
    "virtual_leak": POCKETS,
    "weak_pump": PUMPS,
    "throttled": THROTTLES,
    "usual": {"": lambda plant, rng: plant},
}
LOADS = ("specimen_wet", "specimen_damp_again", "solvent_not_dry", "adhesive_outgassing",
         "stage_overloaded")  # fmt: skip
KINDS = ("pump-down with rise", "rise alone", "pump-down alone")
GAUGES = ("ordinary", "ceiling", "floor", "gaps", "lag")
EVERY = (1.0, 2.0, 5.0, 10.0)
FIRST_SECONDS, TEN_MINUTES = 5.0, 600.0
NUMBERS = (
    *("time_constant", "speed_at_chamber", "base", "end_pressure", "pressure_when_shut"),
    *("rise_at_start", "rise_in_one_minute", "gas_load", "gas_share_of_base"),
)


@dataclass(frozen=True)
class Session:
    """A log and what is true of it. Times in s of the run; `first`: where the log begins."""

    story: str
    cause: str
    kind: str
    gauge_kind: str
    plant: Plant
    run: Run
    seconds: np.ndarray
    pascal: np.ndarray
    pumped_from: float
    shut_at: float | None

    @property
    def machine(self) -> Machine:
        """What the lab knows of it: volume and rated speed."""
        coater = self.plant.coater
        return Machine("this coater", numbers={"volume": coater.volume,
                       "pump_speed": self.rated})  # fmt: skip

    rated: float = 1e-3

    @property
    def as_usual(self) -> bool:
        """Whether base and rise are after all no more than a coater without a record may have."""
        run, gauge = self.run, self.plant.gauge
        seen = as_felt(gauge, run.partial) * gauge.scale + gauge.zero
        end = self.shut_at if self.shut_at is not None else float(run.seconds[-1])
        base = float(np.interp(end, run.seconds, seen))
        return base < 6.0 and float(np.interp(end + 60, run.seconds, seen)) - base < 50.0

    @property
    def began_before(self) -> bool:
        """Whether the log shows some of the pumping."""
        return self.shut_at is None or self.seconds[0] < self.shut_at - 5


def draw(
    story: str, kind: str, gauge_kind: str, rng: np.random.Generator, *, empty: bool = False
) -> Session:
    """A session, without a load if it is `empty`.

    Up to 30 s open, 300 to 1200 s of pumping, 120 to 600 s shut.
    """
    plant = sound_plant(rng)
    rated = plant.coater.pump.speed
    plant = replace(plant, gauge=_gauge(plant.gauge, gauge_kind, rng))
    causes = sorted(c for c in STORIES[story] if not (empty and c in LOADS))
    cause = str(rng.choice(causes))
    broken = STORIES[story][cause](plant, rng)
    if story == "virtual_leak" and pocket_holds(broken) < 3.0:
        return draw(story, kind, gauge_kind, rng, empty=empty)  # nobody would notice
    plant = broken
    wait, pumping = rng.uniform(0, 30), spread(rng, 300, 1200)
    shut = 0.0 if kind == "pump-down alone" else spread(rng, 120, 600)
    stages = [Stage("open", wait), Stage("pump", pumping), *([Stage("shut", shut)] if shut else [])]
    run = simulate(plant.coater, stages)
    every = float(rng.choice(EVERY))
    t, p = readings(plant.gauge, run, every, rng, first=rng.uniform(0, 0.9))
    shut_at = wait + pumping if shut else None
    keep = np.ones(len(t), bool)
    if kind == "rise alone":
        # From a steady stretch before the valve was shut, or from the moment it was.
        keep = t >= wait + pumping - rng.choice([0.0, 0.0, 20.0, 60.0, 120.0])
    if gauge_kind == "gaps":
        begin = rng.uniform(t[keep][0], t[-1])
        keep &= (t < begin) | (t > begin + spread(rng, 40, 240))
    keep &= p > 0
    t, p = t[keep], p[keep]
    if gauge_kind == "gaps" and rng.random() < 0.3:
        t, p = np.append(t, t[-1] + 86400 * rng.uniform(0.5, 4)), np.append(p, 101325.0)
    return Session(story, cause, kind, gauge_kind, plant, run, t, p, wait, shut_at, rated)


def pocket_holds(plant: Plant) -> float:
    """Pa that its pocket holds up after ten minutes."""
    pocketless = replace(plant.coater, pocket=None)
    both = [simulate(c, [Stage("pump", 600)]).pascal[-1] for c in (plant.coater, pocketless)]
    return float(both[0] - both[1])


def _gauge(gauge: Gauge, kind: str, rng: np.random.Generator) -> Gauge:
    if kind == "ceiling":
        return replace(gauge, top=float(rng.choice([100.0, 200.0, 1000.0, 2000.0, 10000.0])))
    if kind == "floor":
        return replace(gauge, bottom=float(rng.choice([1.0, 2.0, 5.0, 10.0])))
    if kind == "lag":
        return replace(gauge, lag=rng.uniform(4, 8))
    return gauge


def read(
    session: Session, findings: Mapping, folder: Path, *, empty: bool = False
) -> Analysis | str:
    """What the reader makes of its file, or the sentence with which it refuses."""
    path = folder / "log.csv"
    start = session.seconds[0]
    path.write_text(pressure_log(session.seconds - start, session.pascal), encoding="utf-8")
    try:
        return analyse(read_log(path), findings, session.machine, empty=empty)
    except UserError as error:
        return str(error)


def truths(session: Session, analysis: Analysis) -> dict[str, float]:
    """What the gauge would have shown without noise, ends and lag, in SI."""
    plant, run = session.plant, session.run
    gauge, coater = plant.gauge, plant.coater

    def at(seconds: float) -> float:
        felt = np.interp(seconds, run.seconds, as_felt(gauge, run.partial))
        drifted = gauge.scale * (1 + gauge.drift * seconds / TEN_MINUTES)
        return float(felt * drifted + gauge.zero)

    out: dict[str, float] = {}
    offset = float(session.seconds[0])
    tau = coater.volume / _reach(coater, 2e4)
    out["time_constant"], out["speed_at_chamber"] = tau, coater.volume / tau
    if analysis.pump is not None:
        part = analysis.pump
        last = offset + part.start + float(part.data.seconds[-1])
        out["end_pressure"] = at(min(last, session.shut_at or last))
        ten = offset + part.start + TEN_MINUTES
        longer = simulate(coater, [Stage("open", session.pumped_from),
                                   Stage("pump", ten - session.pumped_from + 10)])  # fmt: skip
        felt = np.interp(ten, longer.seconds, as_felt(gauge, longer.partial))
        out["base"] = float(felt * gauge.scale * (1 + gauge.drift * ten / TEN_MINUTES) + gauge.zero)
    if session.shut_at is not None and analysis.rise is not None:
        out["pressure_when_shut"] = at(session.shut_at)
        shut = session.shut_at
        if not analysis.rise.begun:  # the first minute that was seen
            shut = offset + analysis.rise.start
        out["rise_at_start"] = (at(shut + FIRST_SECONDS) - at(shut)) / FIRST_SECONDS
        out["rise_in_one_minute"] = (at(shut + 60) - at(shut)) / 60
        out["gas_load"] = coater.volume * out["rise_at_start"]
        true = run.at(shut)
        slow = coater.volume / _reach(coater, true)
        out["gas_share_of_base"] = out["rise_at_start"] * slow / max(at(shut), 0.1)
    return out


def _reach(coater, pascal: float) -> float:
    """Speed at the chamber in m3/s at a pressure of air, of a pump without an end pressure."""
    ideal = replace(coater, pump=replace(coater.pump, ultimate=0.0, oil_water=0.0), hose_leak=0.0)
    return sum(pumped(ideal, (pascal, 0.0, 0.0))) / pascal


@dataclass
class Tally:
    """Counts of one kind of log."""

    firm: int = 0
    firm_right: int = 0
    open: int = 0
    named: int = 0
    refused: int = 0
    told: Counter = None  # type: ignore[assignment]
    held: dict = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        self.told, self.held = Counter(), defaultdict(list)


def right(session: Session, said: str) -> bool:
    """Whether a story is what makes the base.

    A sound coater is as usual or lives on the vapour of its walls. Where a hose throttles, ordinary
    vapour makes the base.
    """
    if said == "usual" and session.as_usual:
        return True
    # What is said of a weak pump names its hose.
    also = {"usual": ("vapour",), "throttled": ("vapour", "weak_pump")}
    if session.kind == "rise alone" and session.story in ("weak_pump", "throttled", "usual"):
        # The pump is shut off: what rises is what the walls of a sound chamber give off.
        return said in ("usual", "vapour", session.story if session.began_before else "")
    if said == "leak_and_vapour" and session.story in ("leak", "vapour"):
        return both_come_in(session)
    return said == session.story or said in also.get(session.story, ())


def both_come_in(session: Session) -> bool:
    """Whether leaks and vapour each make a tenth of the rise, as the gauge shows it."""
    state = session.shut_at if session.shut_at is not None else session.run.seconds[-1]
    coater = session.plant.coater
    row = int(np.searchsorted(session.run.seconds, state))
    pascal = float(session.run.pascal[min(row, len(session.run.pascal) - 1)])
    leaks = sum(sum(from_room(x, pascal, coater)) for x in coater.leaks)
    stores = Stores.of(coater.walls, coater.seals).flow(state - session.pumped_from)
    wet = 0.0
    if coater.liquid is not None:
        wet = coater.liquid.opening * (1500.0 - pascal)
    vapour = 2 * (stores + wet)
    return min(leaks, vapour) > 0.1 * (leaks + vapour)


def run_all(
    each: int, seed: int, misses: bool = False, empty: bool = False
) -> dict[tuple[str, str], Tally]:
    findings = load().findings
    out: dict[tuple[str, str], Tally] = {}
    with tempfile.TemporaryDirectory() as folder:
        for kind in KINDS:
            for gauge in GAUGES:
                tally = out[kind, gauge] = Tally()
                rng = np.random.default_rng([seed, KINDS.index(kind), GAUGES.index(gauge)])
                for story in STORIES:
                    for _ in range(each):
                        session = draw(story, kind, gauge, rng, empty=empty)
                        got = read(session, findings, Path(folder), empty=empty)
                        _count(tally, session, got, misses)
    return out


def _count(tally: Tally, session: Session, got: Analysis | str, misses: bool) -> None:
    if isinstance(got, str):
        tally.refused += 1
        if misses:
            print(f"REFUSED {session.story} {session.cause}: {got}")
        return
    story, rivals = got.verdict.story, got.verdict.rivals
    tally.told[session.story, story or "open"] += 1
    if story is not None:
        tally.firm += 1
        fine = right(session, story)
        tally.firm_right += fine
    else:
        tally.open += 1
        fine = any(right(session, r) for r in rivals)
        tally.named += fine
    if misses and not fine:
        print(f"MISS {session.kind}/{session.gauge_kind} {session.story} ({session.cause}): "
              f"{story} {rivals} {got.reading.sentence}")  # fmt: skip
    for name, true in truths(session, got).items():
        number = got.reading.numbers.get(name)
        if number is not None:
            off = abs(number.value - true) / max(number.sigma, 1e-12)
            tally.held[name].append(off <= 1.96)
            if misses and off > 4:
                said = f"{number.value:.4g} +- {1.96 * number.sigma:.2g}, true {true:.4g}"
                where = f"{session.kind}/{session.gauge_kind} {session.story} ({session.cause})"
                print(f"  OFF {where} {name}: {said}")


def share(part: int, whole: int) -> str:
    return f"{part}/{whole} ({100 * part / whole:.0f} %)" if whole else "none"


def lines(tallies: Mapping[tuple[str, str], Tally]) -> Iterator[str]:
    yield "| log | gauge | refused | firm, right | cannot tell, truth named |"
    yield "|---|---|---|---|---|"
    for (kind, gauge), t in tallies.items():
        yield (
            f"| {kind} | {gauge} | {t.refused} | {share(t.firm_right, t.firm)} | "
            f"{share(t.named, t.open)} |"
        )
    yield ""
    yield f"| log | gauge | {' | '.join(NUMBERS)} |"
    yield f"|---|---|{'---|' * len(NUMBERS)}"
    for (kind, gauge), t in tallies.items():
        cells = [
            f"{100 * np.mean(t.held[n]):.0f} % of {len(t.held[n])}" if t.held[n] else ""
            for n in NUMBERS
        ]
        yield f"| {kind} | {gauge} | {' | '.join(cells)} |"
    yield ""
    everything = list(tallies.values())
    firm, of = (sum(getattr(t, k) for t in everything) for k in ("firm_right", "firm"))
    named, left = (sum(getattr(t, k) for t in everything) for k in ("named", "open"))
    yield f"Together: firm and right {share(firm, of)}; truth named {share(named, left)}."
    for name in NUMBERS:
        held = [x for t in everything for x in t.held[name]]
        yield f"- {name}: {share(sum(held), len(held))}"
    yield ""
    yield "What is told of what is true, all logs:"
    told = sum((t.told for t in tallies.values()), Counter())
    for story in STORIES:
        counts = {said: n for (true, said), n in sorted(told.items()) if true == story}
        yield f"- {story}: {', '.join(f'{said} {n}' for said, n in counts.items())}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--each", type=int, default=20, help="sessions a story, log and gauge")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--misses", action="store_true", help="print each one that is wrong")
    parser.add_argument("--empty", action="store_true", help="no load, and the reader is told so")
    args = parser.parse_args()
    print("\n".join(lines(run_all(args.each, args.seed, args.misses, args.empty))))


if __name__ == "__main__":
    main()
