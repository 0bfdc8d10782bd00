"""Tests the Python client against a small gRPC server with scripted answers on a Unix socket.

What the real server answers is tested in tests/end_to_end.
"""
import os
import tempfile
import unittest
from concurrent import futures

import grpc
import numpy as np
from google.protobuf import text_format

import gaitshelf
from gaitshelf.v1 import (audit_pb2, gait_pb2, job_pb2, job_service_pb2, job_service_pb2_grpc,
                          library_service_pb2, library_service_pb2_grpc, model_service_pb2,
                          model_service_pb2_grpc, playback_service_pb2, playback_service_pb2_grpc,
                          robot_pb2, surface_pb2)
from gaitshelf.errors import error_details_pb2, from_rpc, status_pb2

LEGS = 3
FEET = 4
KNOTS = 5


def make_gait():
    """Returns a gait whose every value tells its own place: 100 * row + column."""
    def table(width):
        return [100 * row + column for row in range(KNOTS) for column in range(width)]

    gait = gait_pb2.Gait(name="g-1", robot="weevil", surface="duct-steel", stride_frequency_hz=10,
                         is_periodic=True, knot_count=KNOTS, knot_period_s=0.02, advance_m=0.009,
                         leg_names=["a", "b", "c"], foot_names=["a", "b", "c", "skid"],
                         body_position_m=table(3), body_attitude_rad=table(3),
                         leg_position_m=table(2 * LEGS), voltage_v=table(2 * LEGS),
                         foot_force_n=table(3 * FEET), foot_gap_m=table(FEET))
    gait.audit.verdict = audit_pb2.VERDICT_GOOD
    gait.audit.replay.advance_m = 0.0088
    return gait


class Library(library_service_pb2_grpc.LibraryServiceServicer):
    def PutRobot(self, request, context):
        bad = error_details_pb2.BadRequest(field_violations=[
            {"field": "body.mass_kg", "description": "is -1; must be more than 0; weigh it"},
            {"field": "legs[0].name", "description": "is missing; name the leg"}])
        status = status_pb2.Status(code=3, message="two lines\nof faults")
        status.details.add().Pack(bad)
        context.set_trailing_metadata([("grpc-status-details-bin", status.SerializeToString())])
        context.abort(grpc.StatusCode.INVALID_ARGUMENT, "two lines\nof faults")

    def GetGait(self, request, context):
        if request.name != "g-1":
            context.abort(grpc.StatusCode.NOT_FOUND, f"no gait '{request.name}'")
        return make_gait()

    def GetRobot(self, request, context):
        return library_service_pb2.StoredRobot(
            robot=robot_pb2.Robot(name=f"{request.name} {request.digest}"))

    def GetSurface(self, request, context):
        return library_service_pb2.StoredSurface(
            surface=surface_pb2.Surface(name=f"{request.name} {request.digest}"))

    def FindGait(self, request, context):
        if request.order.surface != "duct-steel":
            context.abort(grpc.StatusCode.NOT_FOUND, "no good gait yet")
        return gait_pb2.GaitSummary(name="g-1")

    def ListGaits(self, request, context):
        first = int(request.page_token or 0)
        names = [f"g-{i}" for i in range(first, first + 2)]
        return library_service_pb2.ListGaitsResponse(
            gaits=[gait_pb2.GaitSummary(name=name) for name in names],
            next_page_token="" if first == 4 else str(first + 2))


class Jobs(job_service_pb2_grpc.JobServiceServicer):
    def __init__(self):
        self.orders = []
        self.watch_count = 0

    def OrderGait(self, request, context):
        self.orders.append(request)
        return job_service_pb2.OrderGaitResponse(job=job_pb2.Job(name="j-1"))

    def WatchJob(self, request, context):
        self.watch_count += 1
        job = job_pb2.Job(name=request.name, state=job_pb2.JOB_STATE_RUNNING)
        job.progress.violation_ratio = 10.0 ** -self.watch_count
        yield job_service_pb2.WatchJobResponse(job=job)
        if self.watch_count == 1:  # the server goes away in the middle
            context.abort(grpc.StatusCode.UNAVAILABLE, "stopping")
        if request.name == "j-2":
            job.state = job_pb2.JOB_STATE_FAILED
            job.failure_reason = "25 mm is beyond the reach"
        else:
            job.state = job_pb2.JOB_STATE_DONE
            job.gait = "g-1"
        yield job_service_pb2.WatchJobResponse(job=job)


class Model(model_service_pb2_grpc.ModelServiceServicer):
    """Answers with one mode whose name tells how the robot was named and held."""

    def FindModes(self, request, context):
        condition = model_service_pb2.FootCondition.Name(request.foot_condition)
        name = request.name or f"given {request.robot.name}"
        return model_service_pb2.FindModesResponse(modes=[
            model_service_pb2.Mode(name=f"{name} {condition}",
                                   frequency_hz=request.stride_frequency_hz)])

    def ReadRobot(self, request, context):
        # A real server reads all of it.
        if b"mass_g" in request.text:
            fault = {"field": "body.mass_g", "value": "unknown", "problem": "is not a field of Body",
                     "mend": "write mass_kg", "line": 2, "column": 8}
            return model_service_pb2.ReadRobotResponse(violations=[fault, fault])
        return model_service_pb2.ReadRobotResponse(
            robot=text_format.Parse(request.text, robot_pb2.Robot()))

    def ReadSurface(self, request, context):
        if not request.text:
            return model_service_pb2.ReadSurfaceResponse(violations=[{"field": "a"}])
        return model_service_pb2.ReadSurfaceResponse(
            surface=text_format.Parse(request.text, surface_pb2.Surface()))

    def CheckRobot(self, request, context):
        fault = {"field": "body.mass_kg", "value": request.robot.name, "mend": "weigh it"}
        return model_service_pb2.CheckRobotResponse(violations=[fault], warnings=[fault, fault])

    def CheckSurface(self, request, context):
        return model_service_pb2.CheckSurfaceResponse(warnings=[{"value": request.surface.name}])


class Playback(playback_service_pb2_grpc.PlaybackServiceServicer):
    def StreamSetpoints(self, request, context):
        first = 0
        for size in (2, 3):
            yield playback_service_pb2.SetpointBlock(
                first_sample=first, first_sample_time_s=first * 0.001, sample_period_s=0.001,
                sample_count=size, phase_ratio=[0.5] * size,
                leg_position_m=[0.1] * (size * 2 * LEGS), leg_rate_m_per_s=[0] * (size * 2 * LEGS),
                voltage_v=[100] * (size * 2 * LEGS), contact=[1, 0, 1, 0] * size,
                body_position_m=[0] * (size * 3), body_attitude_rad=[0] * (size * 3))
            # A gait named "gap" loses a sample.
            first += size + (1 if request.gait == "gap" else 0)


class ClientTest(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.jobs = Jobs()
        self.server = grpc.server(futures.ThreadPoolExecutor(4))
        library_service_pb2_grpc.add_LibraryServiceServicer_to_server(Library(), self.server)
        job_service_pb2_grpc.add_JobServiceServicer_to_server(self.jobs, self.server)
        model_service_pb2_grpc.add_ModelServiceServicer_to_server(Model(), self.server)
        playback_service_pb2_grpc.add_PlaybackServiceServicer_to_server(Playback(), self.server)
        address = f"unix:{os.path.join(self.folder.name, 's.sock')}"
        self.server.add_insecure_port(address)
        self.server.start()
        self.client = gaitshelf.connect(address)

    def tearDown(self):
        self.client.close()
        self.server.stop(None).wait()
        self.folder.cleanup()

    def test_order_goes_on_after_the_server_was_away_and_returns_the_gait(self):
        seen = []
        gait = self.client.order("weevil", "duct-steel", frequency_hz=10, advance_m=0.009,
                                 seed="walk", rng=7, progress=lambda p: seen.append(p.violation_ratio))
        self.assertEqual(gait.name, "g-1")
        self.assertEqual(self.jobs.watch_count, 2)
        self.assertEqual(seen[0], 0.1)
        self.assertEqual(seen[-1], 0.01)
        order = self.jobs.orders[0].order
        self.assertEqual(order.task.advance.advance_m, 0.009)
        self.assertEqual(order.options.rng, 7)
        self.assertEqual(order.options.seed_pattern, 2)

    def test_checks_have_faults_and_warnings(self):
        answer = self.client.check_robot(robot_pb2.Robot(name="earwig"))
        self.assertEqual([fault.value for fault in answer.violations], ["earwig"])
        self.assertEqual(len(answer.warnings), 2)
        answer = self.client.check_surface(surface_pb2.Surface(name="felt"))
        self.assertEqual([fault.value for fault in answer.warnings], ["felt"])

    def test_failed_job_says_why(self):
        self.jobs.watch_count = 1
        with self.assertRaisesRegex(gaitshelf.JobFailed, "beyond the reach") as caught:
            self.client.watch("j-2")
        self.assertEqual(caught.exception.job.name, "j-2")

    def test_order_refuses_two_tasks_none_and_an_unknown_seed(self):
        for arguments in ({}, {"turn_rad": 0.1, "hop_m": 0.009}, {"stand_m": 0.0, "advance_m": 0.01},
                          {"hop_m": 0.009, "seed": "x"}, {"hop_m": 0.009, "objective": "speed"}):
            with self.assertRaises(gaitshelf.InvalidRequest):
                self.client.order("weevil", "duct-steel", **arguments)
        self.assertEqual(self.jobs.orders, [])

    def test_modes_name_a_robot_or_carry_it(self):
        answer = self.client.modes("weevil", feet="sticking", frequency_hz=12)
        self.assertEqual(answer.modes[0].name, "weevil FOOT_CONDITION_STICKING")
        self.assertEqual(answer.modes[0].frequency_hz, 12)
        answer = self.client.modes(robot_pb2.Robot(name="earwig"))
        self.assertEqual(answer.modes[0].name, "given earwig FOOT_CONDITION_UNSPECIFIED")
        path = os.path.join(self.folder.name, "beetle.robot.textproto")
        with open(path, "w", encoding="utf-8") as file:
            file.write('name: "beetle"')
        answer = self.client.modes(path, feet="free")
        self.assertEqual(answer.modes[0].name, "given beetle FOOT_CONDITION_FREE_FLIGHT")
        with self.assertRaisesRegex(gaitshelf.InvalidRequest, "sliding, sticking, free, clamped"):
            self.client.modes("weevil", feet="wet")

    def test_faults_come_all_at_once_with_their_fields(self):
        with self.assertRaises(gaitshelf.InvalidRequest) as caught:
            self.client.put_robot(robot_pb2.Robot())
        self.assertEqual([v.field for v in caught.exception.violations],
                         ["body.mass_kg", "legs[0].name"])
        self.assertIn("must be more than 0", str(caught.exception))
        self.assertEqual(caught.exception.code, "INVALID_ARGUMENT")

    def test_file_with_faults_names_file_and_each_with_line_and_column(self):
        path = os.path.join(self.folder.name, "bad.robot.textproto")
        with open(path, "w", encoding="utf-8") as file:
            file.write('name: "weevil"\nbody { mass_g: 2 }\n')
        for call in (self.client.put_robot, self.client.check_robot, self.client.read_robot,
                     self.client.modes):
            with self.assertRaises(gaitshelf.InvalidRequest) as caught:
                call(path)
            self.assertRegex(str(caught.exception), r"^\S*bad\.robot\.textproto: 2 faults\n")
            self.assertEqual([v.field for v in caught.exception.violations], ["body.mass_g"] * 2)
            self.assertEqual(caught.exception.violations[0].description,
                             "is unknown; is not a field of Body; write mass_kg (line 2, column 8)")
        surface = os.path.join(self.folder.name, "bad.surface.textproto")
        with open(surface, "wb"):
            pass
        for call in (self.client.put_surface, self.client.check_surface, self.client.read_surface):
            with self.assertRaisesRegex(gaitshelf.InvalidRequest, r"bad\.surface\.textproto: 1 fault\n"):
                call(surface)

    def test_description_is_read_from_a_file(self):
        path = os.path.join(self.folder.name, "felt.surface.textproto")
        with open(path, "w", encoding="utf-8") as file:
            file.write('name: "felt" friction_coefficient: 0.4')
        surface = self.client.read_surface(path)
        self.assertEqual((surface.name, surface.friction_coefficient), ("felt", 0.4))
        answer = self.client.check_surface(path)
        self.assertEqual([fault.value for fault in answer.warnings], ["felt"])

    def test_file_too_large_for_a_description_is_not_sent(self):
        path = os.path.join(self.folder.name, "large.robot.textproto")
        with open(path, "wb") as file:
            file.write(b" " * 524289)
        with self.assertRaisesRegex(gaitshelf.InvalidRequest, "larger than 524288 bytes; give"):
            self.client.put_robot(path)

    def test_find_returns_none_when_there_is_no_good_gait(self):
        self.assertEqual(
            self.client.find("weevil", "duct-steel", frequency_hz=10, advance_m=0.009).name, "g-1")
        self.assertIsNone(
            self.client.find("weevil", "grit-tape", frequency_hz=10, advance_m=0.009))

    def test_list_reads_every_page(self):
        self.assertEqual([gait.name for gait in self.client.list()], [f"g-{i}" for i in range(6)])

    def test_older_server_is_named_where_it_says_nothing_itself(self):
        class Refusal(grpc.RpcError):
            def __init__(self, details):
                self.details = lambda: details
                self.code = lambda: grpc.StatusCode.UNIMPLEMENTED
                self.trailing_metadata = lambda: ()

        self.assertIn("older than this package", str(from_rpc(Refusal(""))))
        self.assertEqual(str(from_rpc(Refusal("use pg_dump"))), "use pg_dump")

    def test_unknown_gait_is_not_found(self):
        with self.assertRaisesRegex(gaitshelf.NotFound, "no gait 'g-9'"):
            self.client.get("g-9")

    def test_missing_server_is_unreachable_and_named(self):
        with gaitshelf.connect(f"unix:{self.folder.name}/none.sock") as nobody:
            with self.assertRaisesRegex(gaitshelf.Unreachable, "none.sock"):
                nobody.robots()
            with self.assertRaises(gaitshelf.Unreachable):
                nobody.watch("j-1")

    def test_description_of_a_gait_is_the_version_that_was_solved_for(self):
        message = make_gait()
        message.robot_digest = "d1"
        message.surface_digest = "d2"
        gait = gaitshelf.Gait(message)
        self.assertEqual(self.client.robot_of(gait).name, "weevil d1")
        self.assertEqual(self.client.surface_of(gait).name, "duct-steel d2")

    def test_stream_yields_arrays(self):
        blocks = list(self.client.stream("g-1", 0.005, is_preview=True))
        np.testing.assert_allclose(np.concatenate([b.time_s for b in blocks]),
                                   [0, 0.001, 0.002, 0.003, 0.004])
        self.assertEqual(blocks[1].leg_position_m.shape, (3, 2 * LEGS))
        self.assertEqual(blocks[1].is_contact.tolist(), [[True, False, True, False]] * 3)

    def test_stream_with_a_gap_is_an_error(self):
        with self.assertRaisesRegex(gaitshelf.GaitshelfError, "jumped from sample 2 to 3"):
            list(self.client.stream("gap", 0.005, is_preview=True))


class GaitTest(unittest.TestCase):
    def test_arrays_have_their_shape_and_order(self):
        gait = gaitshelf.Gait(make_gait())
        self.assertEqual(gait.body_position_m.shape, (KNOTS, 3))
        self.assertEqual(gait.body_attitude_rad[4, 2], 402)
        self.assertEqual(gait.leg_position_m.shape, (KNOTS, 2 * LEGS))
        self.assertEqual(gait.leg_position_m[2, 5], 205)
        self.assertEqual(gait.voltage_v[3, 1], 301)
        self.assertEqual(gait.foot_force_n.shape, (KNOTS, FEET, 3))
        self.assertEqual(gait.foot_force_n[1, 2, 1], 107)
        self.assertEqual(gait.foot_gap_m[4, 3], 403)
        np.testing.assert_allclose(gait.time_s, [0, 0.02, 0.04, 0.06, 0.08])
        np.testing.assert_allclose(gait.phase_ratio, [0, 0.2, 0.4, 0.6, 0.8])

    def test_hop_ends_at_its_last_knot(self):
        message = make_gait()
        message.is_periodic = False
        np.testing.assert_allclose(gaitshelf.Gait(message).phase_ratio, [0, 0.25, 0.5, 0.75, 1])

    def test_arrays_cannot_be_changed(self):
        with self.assertRaises(ValueError):
            gaitshelf.Gait(make_gait()).voltage_v[0, 0] = 1

    def test_short_array_is_refused(self):
        message = make_gait()
        message.voltage_v.pop()
        with self.assertRaises(ValueError):
            _ = gaitshelf.Gait(message).voltage_v

    def test_coordinates_are_split_into_lift_and_swing(self):
        gait = gaitshelf.Gait(make_gait())
        self.assertEqual(gait.lift_m[2].tolist(), [200, 202, 204])
        self.assertEqual(gait.swing_m[2].tolist(), [201, 203, 205])

    def test_foot_is_in_contact_above_a_thousandth_of_the_greatest_load(self):
        message = make_gait()
        # Normal force of foot 0: the least load that counts, the greatest that does not.
        message.foot_force_n[:] = [0.0] * (KNOTS * FEET * 3)
        message.foot_force_n[2] = 1.0
        message.foot_force_n[12 + 2] = 1.001e-3
        message.foot_force_n[24 + 2] = 0.999e-3
        contact = gaitshelf.Gait(message).is_contact
        self.assertEqual(contact[:, 0].tolist(), [True, True, False, False, False])
        self.assertFalse(contact[:, 1:].any())

    def test_audit_is_told_law_by_law(self):
        message = make_gait()
        message.audit.residuals.cone_ratio = 2e-7
        message.audit.residuals.worst_ratio = 3e-7
        message.audit.reasons.append("It falls.")
        gait = gaitshelf.Gait(message)
        self.assertEqual(gait.residual_ratio["cone"], 2e-7)
        self.assertEqual(gait.residual_ratio["worst"], 3e-7)
        self.assertEqual(gait.reasons, ["It falls."])
        self.assertIsNone(gait.mechanism)
        message.audit.replay.mechanism.most_loaded.force_n = 0.05
        self.assertEqual(gait.mechanism.most_loaded.force_n, 0.05)
        self.assertIsNone(gait.spread)
        self.assertIsNone(gait.hand_tuned)
        message.audit.spread.p05_m = 0.008
        self.assertEqual(gait.spread.p05_m, 0.008)

    def test_rise_is_that_of_the_body_above_its_start(self):
        message = make_gait()
        self.assertEqual(gaitshelf.Gait(message).rise_m, 0)
        message.is_periodic = False
        message.body_position_m[:] = [0, 0, 2, 0, 0, 1, 0, 0, 7, 0, 0, 3, 0, 0, 2]
        self.assertEqual(gaitshelf.Gait(message).rise_m, 5)

    def test_only_a_good_audit_makes_a_good_gait(self):
        message = make_gait()
        self.assertTrue(gaitshelf.Gait(message).is_good)
        message.audit.verdict = audit_pb2.VERDICT_FAILED
        self.assertFalse(gaitshelf.Gait(message).is_good)
        message.ClearField("audit")
        self.assertFalse(gaitshelf.Gait(message).is_good)


if __name__ == "__main__":
    unittest.main()
