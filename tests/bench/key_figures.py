"""The key figures of a run of the benches as a Markdown table: what, the figure with its unit, the command."""
from __future__ import annotations

from typing import Callable, Iterator

# What is measured, and the figure.
Row = tuple[str, str]


def percent(ratio: float, digits: int = 0) -> str:
    return f"{100 * ratio:.{digits}f} %"


def row(what: str, figure: str) -> Callable[[dict], Iterator[Row]]:
    """Makes the one row of a bench whose report has all figures as they are shown."""
    return lambda result: iter([(what.format(**result), figure.format(**result))])


def reliability(result: dict) -> Iterator[Row]:
    yield (f"{result['orders']} orders that nobody tuned for, series {result['rng']}",
           f"{percent(result['good_rate'], 1)} good; solved in {result['median_solve_s']:.1f} s in the median, "
           f"{result['p95_solve_s']:.1f} s at the 95th percentile")


def growth(result: dict) -> Iterator[Row]:
    knots, legs = result["growth"]["knots"], result["growth"]["legs"]
    sizes = [size["knots"] for size in knots["sizes"]]
    yield (f"growth of the planner's time with the knots, {min(sizes):g} to {max(sizes):g}",
           f"exponent {knots['iteration_exponent']:.2f} an iteration, {knots['whole_exponent']:.2f} a whole solve")
    sizes = [size["legs"] for size in legs["sizes"]]
    yield (f"and with the legs, {min(sizes):g} to {max(sizes):g}",
           f"exponent {legs['iteration_exponent']:.2f} an iteration")


def shares(result: dict) -> Iterator[Row]:
    parts = {name: ratio for name, ratio in result["shares"]["all"].items() if name not in ("case", "whole_s")}
    yield "what the planner's time goes into", ", ".join(f"{name} {percent(ratio)}" for name, ratio in parts.items())


def versus(result: dict) -> Iterator[Row]:
    for case, figures in result["versus"].items():
        for run in figures["ipopt"]:
            good_s = run["as_good_s"]
            yield (f"IPOPT ({run['setup']}) over the planner's time, {case}",
                   f"{good_s / figures['planner_s']:.0f}x until as good" if good_s >= 0 else
                   f"not as good after {run['time_ratio']:.0f}x")


def pose(result: dict) -> Iterator[Row]:
    cases = result["cases"]
    case = next(case for case in cases if case["walk"] == "liner-felt 12 Hz" and case["delay_s"] == 0.04)
    yield ("where the body is, `weevil` at 12 Hz on liner-felt, tracked 40 ms late",
           f"{1e3 * case['estimate_rms_m']:.3f} mm rms; the tracking as it is {1e3 * case['late_rms_m']:.2f} mm, "
           f"extrapolated {1e3 * case['line_rms_m']:.2f} mm")
    yield ("a step of that estimate, over all walks and delays",
           f"at most {max(case['step_p50_us'] for case in cases):.0f} us in the median, "
           f"{max(case['step_p99_us'] for case in cases):.0f} us at the 99th percentile")


def calibration(result: dict) -> Iterator[Row]:
    count = sum(kind["count"] for kind in result["coverage"].values())
    yield (f"95 % intervals of a calibration, {result['robots']} hidden robots",
           f"{percent(result['coverage_ratio'], 1)} of {count} hold, {result['failed_count']} robots failed")
    if "asked_m" in result:
        yield (f"gaits of {1e3 * result['asked_m']:g} mm planned anew for what was calibrated",
               f"{percent(result['new_median_off_ratio'], 1)} off what was asked in the median, before "
               f"{percent(result['first_median_off_ratio'], 1)}; {result['nearer_count']} of {result['robots']} nearer")
    else:
        yield ("longest strides planned anew for what was calibrated",
               f"{100 * result['median_gain_ratio']:+.1f} % further in the median, {result['further_count']} of "
               f"{result['robots']} further; {result['first_fell_count']} fall before, {result['new_fell_count']} after")


def by_database(part: dict) -> Iterator[tuple[dict, str]]:
    """Gives what was measured on each database, and the database as the end of a row's name."""
    for figures in (part, *(value for value in part.values() if isinstance(value, dict))):
        yield figures, f", {figures['database']}" if "database" in figures else ""


def hits(result: dict) -> Iterator[Row]:
    for part, database in by_database(result["hits"]):
        for case in part["cases"]:
            yield (f"hits over {case['transport']}, {case['gaits']} gaits of {part['gait_bytes'] / 1e3:.0f} kB{database}",
                   f"{case['rate_ratio_median']:.2f} of the rate of a server that only sends the same bytes, "
                   f"{case['server']['rate_per_s']:.0f} a second")


def size(result: dict) -> Iterator[Row]:
    for part, database in by_database(result["size"]):
        least, most = part["sizes"][0], part["sizes"][-1]
        for call in most["calls"]:
            yield (f"`{call['call']}` with {most['gaits']} gaits over {least['gaits']}{database}",
                   f"99th percentile {call['p99_ratio']:.2f}x, median {call['p50_ratio']:.2f}x")


def sweep(result: dict) -> Iterator[Row]:
    rounds = result["sweep"]["rounds"]
    yield ("a second worker, `weevil-lumped`",
           f"{result['sweep']['ratio_median']:.2f}x, {max(one['two_workers_per_min'] for one in rounds):.0f} gaits a "
           f"minute by two")


def overload(result: dict) -> Iterator[Row]:
    for storm in result["storms"]:
        ended = [f"{kind['count']} {code} after {kind['p99_ms']:.0f} ms" for code, kind in storm["ended"].items()]
        yield (f"overload, {storm['calls']} calls `{storm['storm']}`",
               f"{'; '.join(ended + [str(storm['under_way']) + ' under way'])}; at most {storm['server_mb_peak']:.0f} "
               f"MB, another is answered in {storm['answers_another_ms']:.0f} ms")


ROWS: dict[str, Callable[[dict], Iterator[Row]]] = {
    "demo": row("gaits of the demonstration, `{robot}`",
                "{good_count} of {gait_count} good, {solve_s:.1f} s of solving in all"),
    "misses": row("a gait that the library lacks, `{robot}` at {frequency_hz:g} Hz, from order to gait",
                  "{median_miss_s:.2f} s in the median of {order_count} orders, {good_count} good; of it "
                  "{median_solve_s:.2f} s of solving"),
    "reliability": reliability,
    "growth": growth,
    "shares": shares,
    "versus": versus,
    "leg": row("one leg with first and second derivatives",
               "compiled {compiled_us:.2f} us, lumped {lumped_us:.2f} us, ratio {compiled_ratio:.1f}"),
    "pose": pose,
    "trial_analysis": row("analysis of a trial of {minutes} minutes at 1 kHz",
                          "{from_memory[unknown_delay][seconds]:.2f} s from memory, "
                          "{through_library[analysed][seconds]:.2f} s from a library"),
    "calibration": calibration,
    "playback": row("{controllers} control loops at {rate_hz:g} Hz for {seconds:g} s",
                    "{underruns} underruns, {least_buffer_ms:.0f} ms left in the emptiest buffer, "
                    "{server_cpu_cores:.2f} cores for the server"),
    "hits": hits,
    "size": size,
    "sweep": sweep,
    "overload": overload}


def rows(entry: dict) -> list[Row]:
    """Returns the figures of one bench, or why there are none."""
    if entry["problem"]:
        return [(entry["name"], f"not measured: {entry['problem']}")]
    try:
        return list(ROWS[entry["name"]](entry["result"]))
    except (KeyError, IndexError, StopIteration, TypeError, ValueError) as error:
        return [(entry["name"], f"not measured: its report is not as expected ({type(error).__name__}: {error})")]


def head(report: dict) -> str:
    machine = report["machine"]
    loads = [f"{load[0]:.1f}" for load in (report["begin_load"], report["end_load"]) if load]
    return (f"Measured on {report['date'][:10]}{' with small settings' if report['is_quick'] else ''}, "
            f"{machine['processor']}, {machine['cores']} cores, {machine['memory_gb']:.0f} GB, commit "
            f"{report['commit'][:12]}{' and changes' if report['is_tree_dirty'] else ''}, load {' to '.join(loads)}"
            f"{'; interrupted' if report['is_interrupted'] else ''}.")


def table(report: dict) -> str:
    """Returns head and table of a report of run_benches.py."""
    lines = [head(report), "", "| what | figure | measured by |", "| --- | --- | --- |"]
    for entry in report["benches"]:
        command = entry["command"].split(" --json ")[0]
        for what, figure in rows(entry):
            # A stroke would end the cell.
            lines.append(" | ".join(["| " + what, figure.replace("|", "/"), f"`{command}` |"]))
    return "\n".join(lines) + "\n"
