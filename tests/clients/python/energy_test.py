"""Tests the energy that charges the drives against hand calculation."""
import unittest

import gaitshelf
from gaitshelf.v1 import gait_pb2, robot_pb2


def make_gait(voltage_v, is_periodic=True):
    """Returns a gait of one leg; lift has the given voltages, swing none."""
    gait = gait_pb2.Gait(is_periodic=is_periodic, knot_count=len(voltage_v), knot_period_s=0.01,
                         leg_names=["left"], advance_m=0.009,
                         voltage_v=[value for v in voltage_v for value in (v, 0.0)])
    gait.audit.replay.advance_m = 0.008
    return gaitshelf.Gait(gait)


def lumped(**bimorph):
    robot = robot_pb2.Robot()
    robot.legs.add().lumped.lift.bimorph.CopyFrom(robot_pb2.Bimorph(**bimorph))
    return robot


class EnergyTest(unittest.TestCase):
    def test_charges_half_c_v_squared_once_a_cycle_and_loses_what_comes_back(self):
        # 10 nF up from 50 V to 200 V and back: 5e-9 * (4e4 - 2.5e3) J.
        robot = lumped(capacitance_f=1e-8)
        self.assertAlmostEqual(gaitshelf.charging_j(make_gait([50, 100, 200, 80]), robot), 1.875e-4,
                               delta=1e-12)
        # A hop does not come back to its first knot.
        self.assertAlmostEqual(gaitshelf.charging_j(make_gait([200, 0, 10], False), robot), 5e-7,
                               delta=1e-12)

    def test_line_through_no_voltage_charges_from_nothing(self):
        robot = lumped(capacitance_f=1e-8)
        self.assertAlmostEqual(gaitshelf.charging_j(make_gait([-100, 100], False), robot), 5e-5,
                               delta=1e-12)

    def test_energy_per_metre_is_over_the_replayed_way(self):
        robot = lumped(capacitance_f=1e-8)
        gait = make_gait([0, 100])
        self.assertAlmostEqual(gaitshelf.charging_j_per_m(gait, robot), 5e-5 / 0.008, delta=1e-9)
        gait.message.audit.replay.advance_m = 0
        self.assertIsNone(gaitshelf.charging_j_per_m(gait, robot))

    def test_unknown_capacitance_gives_none(self):
        self.assertIsNone(gaitshelf.charging_j(make_gait([0, 100]), lumped(gain_n_per_v=1)))

    def test_layers_give_the_capacitance_of_their_wiring(self):
        # Two layers 10 mm x 2 mm x 0.1 mm of permittivity 1000: 1.77 nF each, side by side twice
        # that, one after the other half of it.
        for wiring, capacitance_f in ((robot_pb2.BIMORPH_WIRING_PARALLEL, 3.5416751e-9),
                                      (robot_pb2.BIMORPH_WIRING_SERIES, 0.88541878e-9)):
            robot = lumped(layers=robot_pb2.BimorphLayers(
                length_m=0.01, width_m=0.002, piezo_thickness_m=1e-4, permittivity_ratio=1000,
                wiring=wiring))
            self.assertAlmostEqual(gaitshelf.charging_j(make_gait([0, 100]), robot),
                                   5e3 * capacitance_f, delta=1e-12)

    def test_drives_of_linkages_count_and_passive_coordinates_do_not(self):
        robot = robot_pb2.Robot()
        linkage = robot.legs.add().linkage
        linkage.lift.drive.bimorph.capacitance_f = 1e-8
        linkage.swing.flexure = "hip"
        self.assertAlmostEqual(gaitshelf.charging_j(make_gait([0, 100]), robot), 5e-5, delta=1e-12)


if __name__ == "__main__":
    unittest.main(verbosity=2)
