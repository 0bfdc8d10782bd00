#!/usr/bin/python3
"""The demonstration's linkage leg, closed and shaken by SciPy and compared with leg_table.

Everything here is worked out from the description alone: the loops with a general root finder, the
modes by projecting stiffness and mass of all flexures on the null space of the loop equations
(surveyed by Gonzalez, Masarati, Cuadrado and Naya, ASME J. Comput. Nonlinear Dyn. 12, 2017).

Usage: loop_mechanism_test.py LEG_TABLE ROBOT_FILE
"""
import functools
import subprocess
import sys
import unittest

import numpy as np
from google.protobuf import text_format
from scipy.linalg import eigh, null_space
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from gaitshelf.v1 import robot_pb2

LEG_TABLE, ROBOT_FILE = "", ""


def bending(flexure):
    """Stiffness of a flexure, N m/rad: E w t^3 / (12 l) for a film."""
    if flexure.bending.HasField("film"):
        film = flexure.bending.film
        return film.modulus_pa * film.width_m * film.thickness_m**3 / (12 * film.length_m)
    return flexure.bending.stiffness_n_m_per_rad


def turned(axis, angle):
    """Rotation about a unit axis."""
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


class Mechanism:
    """A leg with the angles of its tree's flexures as coordinates, in the description's order."""

    def __init__(self, leg):
        self.leg = leg
        self.names = [flexure.name for flexure in leg.flexures]
        self.free = [self.names.index(leg.lift.flexure), self.names.index(leg.swing.flexure)]
        self.held = [i for i in range(len(self.names)) if i not in self.free]
        self.carrier = {flexure.child: flexure for flexure in leg.flexures}

    def transform(self, angles, link):
        """Rotation and shift of a link's rest points."""
        if link == "body":
            return np.eye(3), np.zeros(3)
        flexure = self.carrier[link]
        turn, shift = self.transform(angles, flexure.parent)
        point = np.array(flexure.point_m)
        own = turned(flexure.axis_ratio, angles[self.names.index(flexure.name)])
        return turn @ own, shift + turn @ (point - own @ point)

    def place(self, angles, link, point):
        turn, shift = self.transform(angles, link)
        return shift + turn @ np.array(point)

    def gaps(self, angles):
        """All three parts of every loop's gap; a planar loop leaves the third at 0 by itself."""
        return np.concatenate([
            self.place(angles, closing.link_a, closing.point_m) -
            self.place(angles, closing.link_b, closing.point_m)
            for closing in self.leg.closing_flexures])

    def jacobian(self, function, angles):
        """Central differences, good to about 1e-10."""
        step = 1e-5
        return np.stack([(function(angles + step * unit) - function(angles - step * unit)) /
                         (2 * step) for unit in np.eye(len(angles))], axis=-1)

    @functools.lru_cache(maxsize=None)
    def close(self, lift, swing):
        """Angles with closed loops, followed from rest."""
        angles = np.zeros(len(self.names))
        size = max(np.linalg.norm(flexure.point_m) for flexure in self.leg.flexures)
        for share in np.linspace(0, 1, 6)[1:]:
            angles[self.free] = share * lift, share * swing

            def residual(held):
                whole = angles.copy()
                whole[self.held] = held
                return self.gaps(whole) / size

            found = root(residual, angles[self.held], method="lm",
                         options={"xtol": 1e-15, "ftol": 1e-15})
            angles[self.held] = found.x
            assert np.abs(residual(found.x)).max() < 1e-12, found.message
        return angles

    def closing_angle(self, angles, closing):
        """Angle by which a closing flexure is bent."""
        turn_a, _ = self.transform(angles, closing.link_a)
        turn_b, _ = self.transform(angles, closing.link_b)
        rest_axis = np.array(closing.axis_ratio)
        return Rotation.from_matrix(turn_a.T @ turn_b).as_rotvec() @ rest_axis

    def mass(self, angles):
        total = np.zeros((len(angles), len(angles)))
        for link in self.leg.links:
            move = self.jacobian(lambda q, link=link: self.place(q, link.name, link.center_of_mass_m),
                                 angles)
            turn, _ = self.transform(angles, link.name)
            rotations = self.jacobian(
                lambda q, link=link: Rotation.from_matrix(
                    self.transform(q, link.name)[0] @ turn.T).as_rotvec(), angles)
            xx, yy, zz, xy, xz, yz = link.inertia_kg_m2
            inertia = turn @ np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]) @ turn.T
            total += link.mass_kg * move.T @ move + rotations.T @ inertia @ rotations
        for _, _, travel, bimorph in self.drives(angles):
            total += bimorph.moving_mass_kg * np.outer(travel, travel)
        return total

    def drives(self, angles):
        """Name, coordinate, derivative of the pin's way by the angles, and bimorph."""
        for name, coordinate in (("lift", self.leg.lift), ("swing", self.leg.swing)):
            drive = coordinate.drive
            way = lambda q, drive=drive: np.array(drive.direction_ratio) @ self.place(
                q, drive.link, drive.pin_m)
            yield name, coordinate, self.jacobian(way, angles), drive.bimorph

    def springs(self, angles, weigh):
        """Sum over all flexures of weigh(flexure) times the square of its angle's derivative."""
        total = np.diag([weigh(flexure) for flexure in self.leg.flexures])
        for closing in self.leg.closing_flexures:
            slope = self.jacobian(lambda q, closing=closing: self.closing_angle(q, closing), angles)
            total = total + weigh(closing) * np.outer(slope, slope)
        return total

    def modes(self):
        """Frequencies, Hz, and damping ratios at rest, where no spring is loaded."""
        rest = np.zeros(len(self.names))
        free = null_space(self.jacobian(self.gaps, rest), rcond=1e-7)
        mass = free.T @ self.mass(rest) @ free
        stiffness = self.springs(rest, bending)
        for _, _, travel, bimorph in self.drives(rest):
            stiffness = stiffness + bimorph.stiffness_n_per_m * np.outer(travel, travel)
        damping = self.springs(rest, lambda flexure: flexure.bending.damping_s * bending(flexure))
        squares, shapes = eigh(free.T @ stiffness @ free, mass)
        omega = np.sqrt(squares)
        ratio = np.diag(shapes.T @ free.T @ damping @ free @ shapes) / (2 * omega)
        return omega / (2 * np.pi), ratio


class LoopMechanismTest(unittest.TestCase):

    @classmethod
    def setUpClass(cls):
        robot = robot_pb2.Robot()
        with open(ROBOT_FILE, encoding="utf-8") as file:
            text_format.Parse(file.read(), robot)
        cls.mechanism = Mechanism(robot.legs[0].linkage)
        table = subprocess.run([LEG_TABLE, ROBOT_FILE], check=True, capture_output=True, text=True)
        cls.rows = {"posture": [], "foot": [], "mode": []}
        for line in table.stdout.splitlines():
            kind, *numbers = line.split()
            cls.rows[kind].append(np.array(numbers, dtype=float))

    def test_loops_close_as_a_general_root_finder_closes_them(self):
        mechanism = self.mechanism
        self.assertEqual(len(self.rows["posture"]), 25)
        for row in self.rows["posture"]:
            angles = mechanism.close(row[0], row[1])
            foot = mechanism.place(angles, mechanism.leg.foot_link, mechanism.leg.foot_m)
            np.testing.assert_allclose(row[2:-3], angles, rtol=0, atol=1e-10)
            np.testing.assert_allclose(row[-3:], foot, rtol=0, atol=1e-12)

    def test_compiled_foot_stays_within_a_millionth_of_the_leg(self):
        mechanism = self.mechanism
        size_m = np.linalg.norm(mechanism.leg.foot_m)
        for row in self.rows["foot"]:
            foot = mechanism.place(
                mechanism.close(row[0], row[1]), mechanism.leg.foot_link, mechanism.leg.foot_m)
            np.testing.assert_allclose(row[-3:], foot, rtol=0, atol=1e-6 * size_m)

    def test_modes_are_those_of_all_flexures_on_the_null_space(self):
        frequencies, ratios = self.mechanism.modes()
        # Coordinates less loop equations: no motion is lost, and none is left over.
        count = len(self.mechanism.names) - 2 * len(self.mechanism.leg.closing_flexures)
        self.assertEqual(len(frequencies), count)
        self.assertEqual(len(self.rows["mode"]), count)
        for row, frequency, ratio in zip(self.rows["mode"], frequencies, ratios):
            self.assertAlmostEqual(row[0] / frequency, 1.0, delta=1e-4)
            # Damping is fitted less closely, and known worse.
            self.assertAlmostEqual(row[1] / ratio, 1.0, delta=1e-2)


if __name__ == "__main__":
    LEG_TABLE, ROBOT_FILE = sys.argv[1:3]
    unittest.main(argv=sys.argv[:1])
