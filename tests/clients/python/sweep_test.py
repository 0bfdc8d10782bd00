"""Tests sweeps against a small gRPC server with scripted answers on a Unix socket."""
import math
import os
import tempfile
import unittest
from concurrent import futures

import grpc

import gaitshelf
from gaitshelf.errors import error_details_pb2, status_pb2
from gaitshelf.v1 import (audit_pb2, gait_pb2, job_pb2, job_service_pb2, job_service_pb2_grpc,
                          library_service_pb2_grpc, task_pb2)


def at(order):
    return f"{order.surface} {order.stride_frequency_hz:g}"


class House(library_service_pb2_grpc.LibraryServiceServicer,
            job_service_pb2_grpc.JobServiceServicer):
    """Has duct-steel at 3 Hz, cannot solve for ice, refuses 900 Hz, and queues two jobs at most."""

    def __init__(self):
        self.ordered = []
        self.open = {}
        self.greatest_open = 0

    def FindGait(self, request, context):
        order = request.order
        if order.stride_frequency_hz > 200:
            bad = error_details_pb2.BadRequest(field_violations=[
                {"field": "stride_frequency_hz", "description": "is 900; use 0.1 to 200"}])
            status = status_pb2.Status(code=3, message="fault")
            status.details.add().Pack(bad)
            context.set_trailing_metadata(
                [("grpc-status-details-bin", status.SerializeToString())])
            context.abort(grpc.StatusCode.INVALID_ARGUMENT, "fault")
        if at(order) != "duct-steel 3":
            context.abort(grpc.StatusCode.NOT_FOUND, "no good gait yet")
        return gait_pb2.GaitSummary(name=at(order))

    def GetGait(self, request, context):
        gait = gait_pb2.Gait(name=request.name)
        gait.audit.verdict = audit_pb2.VERDICT_GOOD
        return gait

    def OrderGait(self, request, context):
        if len(self.open) == 2:
            context.abort(grpc.StatusCode.RESOURCE_EXHAUSTED, "the queue is full")
        name = f"j-{len(self.ordered)}"
        self.ordered.append(at(request.order))
        self.open[name] = request.order
        self.greatest_open = max(self.greatest_open, len(self.open))
        return job_service_pb2.OrderGaitResponse(job=job_pb2.Job(name=name))

    def WatchJob(self, request, context):
        job = job_pb2.Job(name=request.name, state=job_pb2.JOB_STATE_RUNNING)
        for done_ratio in (0.5, 0.25):  # a worker that starts anew falls back
            job.progress.done_ratio = done_ratio
            yield job_service_pb2.WatchJobResponse(job=job)
        order = self.open.pop(request.name)
        if order.surface == "ice":
            job.state = job_pb2.JOB_STATE_FAILED
            job.failure_reason = "ice holds nothing"
        else:
            job.state = job_pb2.JOB_STATE_DONE
            job.gait = at(order)
        yield job_service_pb2.WatchJobResponse(job=job)


class SweepTest(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.house = House()
        self.server = grpc.server(futures.ThreadPoolExecutor(2))
        library_service_pb2_grpc.add_LibraryServiceServicer_to_server(self.house, self.server)
        job_service_pb2_grpc.add_JobServiceServicer_to_server(self.house, self.server)
        address = f"unix:{os.path.join(self.folder.name, 's.sock')}"
        self.server.add_insecure_port(address)
        self.server.start()
        self.client = gaitshelf.connect(address)

    def tearDown(self):
        self.client.close()
        self.server.stop(None).wait()
        self.folder.cleanup()

    def test_grid_puts_neighbours_in_frequency_after_each_other(self):
        orders = gaitshelf.grid("weevil", ["a", "b"], [3, 12], [0.008, 0.009])
        self.assertEqual([(o.surface, o.advance_m, o.frequency_hz) for o in orders],
                         [("a", 0.008, 3), ("a", 0.008, 12), ("a", 0.009, 3), ("a", 0.009, 12),
                          ("b", 0.008, 3), ("b", 0.008, 12), ("b", 0.009, 3), ("b", 0.009, 12)])
        self.assertEqual(str(orders[0]), "weevil on a, 8 mm per cycle at 3 Hz")
        self.assertEqual(str(gaitshelf.Order("weevil", "a", hop_m=0.009)), "weevil on a, hop of 9 mm")

    def test_every_task_is_in_the_message_and_in_words(self):
        order = gaitshelf.Order("weevil", "a", 12, advance_m=0.009, sidestep_m=0.001,
                                turn_rad=math.radians(5), objective="energy")
        message = order.message()
        self.assertEqual(message.task.advance.sidestep_m, 0.001)
        self.assertAlmostEqual(message.task.advance.turn_rad, math.radians(5))
        self.assertEqual(message.objective, task_pb2.OBJECTIVE_LEAST_ENERGY)
        self.assertEqual(str(order), "weevil on a, 9 mm and 1 mm to the left and 5° of turn per "
                         "cycle at 12 Hz")
        farthest = gaitshelf.Order("weevil", "a", 12, is_maximal=True)
        self.assertTrue(farthest.message().task.advance.is_maximal)
        self.assertEqual(str(farthest), "weevil on a, all it can per cycle at 12 Hz")
        hop = gaitshelf.Order("weevil", "a", hop_m=0.009, advance_m=0.004)
        self.assertEqual(hop.message().task.hop.advance_m, 0.004)
        self.assertEqual(str(hop), "weevil on a, hop of 9 mm over 4 mm")
        stand = gaitshelf.Order("weevil", "a", stand_m=-0.0005, pitch_rad=0.02)
        self.assertEqual(stand.message().task.stand.pitch_rad, 0.02)
        self.assertEqual(str(stand), "weevil on a, stand at -0.5 mm")
        several = gaitshelf.Order("weevil", "a", 12, advance_m=0.009, also_on=("b", "c"))
        self.assertEqual(list(several.message().also_on), ["b", "c"])
        self.assertEqual(str(several), "weevil on a and b and c, 9 mm per cycle at 12 Hz")
        way = gaitshelf.Order("weevil", "a", transition=gaitshelf.Transition(
            "g-0123456789abcdef", "g-fedcba9876543210", to_phase_ratio=0.5))
        self.assertEqual(way.message().task.transition.to_phase_ratio, 0.5)
        self.assertEqual(way.message().task.transition.cycle_count, 2)
        self.assertEqual(str(way), "weevil on a, from g-01234567 into g-fedcba98")
        with self.assertRaisesRegex(gaitshelf.InvalidRequest, "does not go with another task"):
            gaitshelf.Order("weevil", "a", 12, advance_m=0.009, transition=gaitshelf.Transition(
                "g-1", "g-2")).message()

    def test_sweep_solves_what_is_missing_and_goes_on_after_a_failure(self):
        orders = gaitshelf.grid("weevil", ["duct-steel", "ice", "felt"], [3, 12], [0.009])
        seen = []
        entries = self.client.sweep(orders, progress=seen.append)
        self.assertEqual([entry.order for entry in entries], orders)
        self.assertEqual([entry.is_good for entry in entries], [True, True, False, False, True, True])
        self.assertEqual([entry.gait.name for entry in entries if entry.gait],
                         ["duct-steel 3", "duct-steel 12", "felt 3", "felt 12"])
        self.assertIn("ice holds nothing", str(entries[2].failure))
        # The library's gait was not ordered again, and the full queue was waited for.
        self.assertEqual(self.house.ordered, ["duct-steel 12", "ice 3", "ice 12", "felt 3", "felt 12"])
        self.assertEqual(self.house.greatest_open, 2)
        self.check_progress(seen)

    def check_progress(self, seen):
        ratios = [progress.done_ratio for progress in seen]
        self.assertEqual(ratios, sorted(ratios))
        self.assertEqual(ratios[0], 1 / 6)  # one of six is in the library
        self.assertEqual(ratios[-1], 1)
        self.assertEqual({progress.count for progress in seen}, {6})
        self.assertEqual(seen[1].plan.done_ratio, 0.5)
        self.assertEqual(seen[1].done_ratio, 1.5 / 6)
        # The answer of the library says nothing of pace; half a solve does.
        self.assertIsNone(seen[0].rate_per_s)
        self.assertGreater(seen[1].rate_per_s, 0)
        self.assertAlmostEqual(seen[1].remaining_s * seen[1].rate_per_s, 4.5)
        self.assertEqual(seen[-1].remaining_s, 0)

    def test_faults_of_all_orders_come_before_any_solve(self):
        orders = [gaitshelf.Order("weevil", "felt", 900, advance_m=0.009),
                  gaitshelf.Order("weevil", "felt", 12, advance_m=0.009),
                  gaitshelf.Order("weevil", "felt", 12)]
        with self.assertRaises(gaitshelf.InvalidRequest) as caught:
            self.client.sweep(orders)
        self.assertEqual([v.field for v in caught.exception.violations],
                         ["orders[0].stride_frequency_hz", "orders[2]"])
        self.assertEqual(self.house.ordered, [])

    def test_sweep_of_nothing_is_nothing(self):
        self.assertEqual(self.client.sweep([]), [])


if __name__ == "__main__":
    unittest.main()
