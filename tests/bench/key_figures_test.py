#!/usr/bin/python3
"""Makes tables of made-up reports, in the shape in which the benches write theirs."""
import copy
import unittest

import key_figures

LATE = {"walk": "liner-felt 12 Hz", "delay_s": 0.04, "late_rms_m": 1.25e-3, "line_rms_m": 4.5e-4,
        "estimate_rms_m": 8.2e-5, "step_p50_us": 12.0, "step_p99_us": 41.0}
RESULTS = {
    "demo": {"robot": "weevil", "good_count": 9, "gait_count": 10, "solve_s": 7.26},
    "misses": {"robot": "weevil", "frequency_hz": 12, "order_count": 9, "good_count": 9, "median_miss_s": 2.345,
               "median_solve_s": 0.512},
    "reliability": {"orders": 60, "rng": 3, "good_rate": 0.9833, "median_solve_s": 0.81, "p95_solve_s": 4.44},
    "growth": {"growth": {
        "knots": {"sizes": [{"knots": 20}, {"knots": 320}], "iteration_exponent": 1.081, "whole_exponent": 1.2},
        "legs": {"sizes": [{"legs": 4}, {"legs": 8}], "iteration_exponent": 1.84}}},
    "shares": {"shares": {"all": {"case": "all", "whole_s": 4.2, "laws": 0.09, "products": 0.474}}},
    "versus": {"versus": {"12 Hz, 40 knots": {"planner_s": 0.2, "ipopt": [
        {"setup": "default", "as_good_s": 9.0, "time_ratio": 60.1},
        {"setup": "l-bfgs", "as_good_s": -1.0, "time_ratio": 60.1}]}}},
    "leg": {"compiled_us": 0.456, "lumped_us": 0.152, "compiled_ratio": 3.0},
    "pose": {"cases": [dict(LATE, walk="liner-felt 3 Hz", step_p50_us=13.0), LATE]},
    "trial_analysis": {"minutes": 10, "from_memory": {"unknown_delay": {"seconds": 1.5}},
                       "through_library": {"analysed": {"seconds": 1.75}}},
    "calibration": {"robots": 30, "coverage": {"GAIN": {"count": 240}, "FRICTION": {"count": 30}},
                    "coverage_ratio": 0.953, "median_gain_ratio": 0.0412, "further_count": 28, "failed_count": 0,
                    "first_fell_count": 2, "new_fell_count": 1},
    "playback": {"controllers": 32, "rate_hz": 1000, "seconds": 60, "underruns": 0, "least_buffer_ms": 88,
                 "server_cpu_cores": 0.151},
    "hits": {"hits": {"gait_bytes": 25300, "cases": [
        {"transport": "socket", "gaits": 100, "rate_ratio_median": 0.61, "server": {"rate_per_s": 20123.4}}]}},
    "size": {"size": {"sizes": [
        {"gaits": 1000, "calls": []},
        {"gaits": 100000, "calls": [{"call": "FindGait", "p50_ratio": 1.02, "p99_ratio": 1.13}]}]}},
    "sweep": {"sweep": {"ratio_median": 1.87, "rounds": [{"two_workers_per_min": 70.2}, {"two_workers_per_min": 68}]}},
    "overload": {"storms": [{"storm": "followed", "calls": 2000, "under_way": 500, "server_mb_peak": 61.7,
                             "ended": {"RESOURCE_EXHAUSTED": {"count": 1500, "p50_ms": 3.0, "p99_ms": 21.4}},
                             "answers_another_ms": 1.9}]},
}
FIGURES = {
    "demo": ["9 of 10 good, 7.3 s of solving in all"],
    "misses": ["2.35 s in the median of 9 orders, 9 good; of it 0.51 s of solving"],
    "reliability": ["98.3 % good; solved in 0.8 s in the median, 4.4 s at the 95th percentile"],
    "growth": ["exponent 1.08 an iteration, 1.20 a whole solve", "exponent 1.84 an iteration"],
    "shares": ["laws 9 %, products 47 %"],
    "versus": ["45x until as good", "not as good after 60x"],
    "leg": ["compiled 0.46 us, lumped 0.15 us, ratio 3.0"],
    "pose": ["0.082 mm rms; the tracking as it is 1.25 mm, extrapolated 0.45 mm",
             "at most 13 us in the median, 41 us at the 99th percentile"],
    "trial_analysis": ["1.50 s from memory, 1.75 s from a library"],
    "calibration": ["95.3 % of 270 hold, 0 robots failed",
                    "+4.1 % further in the median, 28 of 30 further; 2 fall before, 1 after"],
    "playback": ["0 underruns, 88 ms left in the emptiest buffer, 0.15 cores for the server"],
    "hits": ["0.61 of the rate of a server that only sends the same bytes, 20123 a second"],
    "size": ["99th percentile 1.13x, median 1.02x"],
    "sweep": ["1.87x, 70 gaits a minute by two"],
    "overload": ["1500 RESOURCE_EXHAUSTED after 21 ms; 500 under way; at most 62 MB, another is answered in 2 ms"],
}
REPORT = {
    "date": "2026-11-27T20:00:00+00:00", "commit": "0123456789abcdef0123456789abcdef01234567", "is_tree_dirty": False,
    "machine": {"processor": "Some Processor", "cores": 2, "memory_gb": 24.6}, "is_quick": False,
    "is_interrupted": False, "begin_load": [0.12, 0.2, 0.3], "end_load": [1.91, 1.2, 0.8], "benches": []}


def entry(name, **more):
    return dict({"name": name, "command": f".build/release/bin/{name} --rng 0 --json .build/bench/{name}.json",
                 "problem": "", "result": RESULTS.get(name)}, **more)


class KeyFiguresTest(unittest.TestCase):
    def test_gives_the_figures_of_every_bench_with_units(self):
        self.assertEqual(list(FIGURES), list(key_figures.ROWS))
        for name, figures in FIGURES.items():
            self.assertEqual([figure for _, figure in key_figures.rows(entry(name))], figures, name)

    def test_tells_how_much_nearer_gaits_of_a_given_stride_come(self):
        result = dict(RESULTS["calibration"], asked_m=0.009, first_median_off_ratio=0.031, new_median_off_ratio=0.0062,
                      nearer_count=27)
        self.assertEqual(key_figures.rows(entry("calibration", result=result))[1],
                         ("gaits of 9 mm planned anew for what was calibrated",
                          "0.6 % off what was asked in the median, before 3.1 %; 27 of 30 nearer"))

    def test_says_what_each_figure_is_of(self):
        self.assertEqual([what for what, _ in key_figures.rows(entry("growth"))],
                         ["growth of the planner's time with the knots, 20 to 320", "and with the legs, 4 to 8"])
        self.assertEqual(key_figures.rows(entry("size"))[0][0], "`FindGait` with 100000 gaits over 1000")
        self.assertEqual(key_figures.rows(entry("hits"))[0][0], "hits over socket, 100 gaits of 25 kB")

    def test_says_which_database_it_was_when_there_are_two(self):
        hits = RESULTS["hits"]["hits"]
        both = {"hits": dict(hits, database="sqlite", postgres=dict(hits, database="postgres"))}
        self.assertEqual([what for what, _ in key_figures.rows(entry("hits", result=both))],
                         ["hits over socket, 100 gaits of 25 kB, sqlite",
                          "hits over socket, 100 gaits of 25 kB, postgres"])

    def test_says_why_there_is_no_figure(self):
        self.assertEqual(key_figures.rows(entry("leg", problem="met its limit of 40 s", result=None)),
                         [("leg", "not measured: met its limit of 40 s")])
        self.assertEqual(key_figures.rows(entry("leg", result={"compiled_us": 1.0}))[0][1],
                         "not measured: its report is not as expected (KeyError: 'lumped_us')")

    def test_takes_no_figure_that_is_none_for_a_number(self):
        result = dict(RESULTS["leg"], lumped_us=None)
        self.assertIn("not as expected", key_figures.rows(entry("leg", result=result))[0][1])

    def test_begins_with_date_machine_commit_and_load(self):
        self.assertEqual(key_figures.head(REPORT),
                         "Measured on 2026-11-27, Some Processor, 2 cores, 25 GB, commit 0123456789ab, load 0.1 to 1.9.")

    def test_says_what_makes_a_run_less_than_a_measurement(self):
        head = key_figures.head(dict(REPORT, is_quick=True, is_tree_dirty=True, is_interrupted=True, end_load=None))
        self.assertEqual(head, "Measured on 2026-11-27 with small settings, Some Processor, 2 cores, 25 GB, commit "
                               "0123456789ab and changes, load 0.1; interrupted.")

    def test_writes_a_row_for_every_figure_with_its_command(self):
        report = dict(copy.deepcopy(REPORT), benches=[entry("leg"), entry("growth", problem="ended with 3")])
        self.assertEqual(key_figures.table(report).splitlines()[2:], [
            "| what | figure | measured by |", "| --- | --- | --- |",
            "| one leg with first and second derivatives | compiled 0.46 us, lumped 0.15 us, ratio 3.0 | "
            "`.build/release/bin/leg --rng 0` |",
            "| growth | not measured: ended with 3 | `.build/release/bin/growth --rng 0` |"])

    def test_lets_no_stroke_end_a_cell(self):
        problem = "wrote no report: a | b"
        table = key_figures.table(dict(REPORT, benches=[entry("leg", problem=problem)]))
        self.assertIn("| leg | not measured: wrote no report: a / b | `", table)


if __name__ == "__main__":
    unittest.main(verbosity=2)
