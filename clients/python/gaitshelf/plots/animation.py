"""The robot as a stick figure in motion."""
from __future__ import annotations

from pathlib import Path
from typing import Union

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from PIL import Image

from gaitshelf.v1 import robot_pb2

from ..gait import Gait
from ..stick import foot_position_m, hip_m, rotation
from . import style

# Frames per second of the file; a GIF keeps time in hundredths of a second.
_FRAMES_PER_S = 20
_COLOUR_COUNT = 32
_DOTS_PER_INCH = 90
# Room around what moves, m.
_ROOM_M = 4e-3


@style.styled
def animation(gait: Gait, robot: robot_pb2.Robot, path: Union[str, Path], *, cycles: int = 2,
              frames_per_cycle: int = 40) -> Figure:
    """Writes a GIF of the body and its feet from the side and from above, in slow motion.

    robot: as Client.robot_of(gait) returns it.
    cycles: cycles to show, 1 or more; a hop is shown once.
    frames_per_cycle: pictures of each cycle or hop, 2 or more; 20 of them make a second.

    A full dot is a foot that bears load, an empty one a foot in the air. Returns the last picture.

    Raises ValueError for another robot than the gait's or a number out of range.
    """
    if cycles < 1 or frames_per_cycle < 2:
        raise ValueError(f"cycles is {cycles} and frames_per_cycle {frames_per_cycle}; "
                         "use at least 1 and 2")
    scene = _Scene(gait, robot, cycles if gait.is_periodic else 1)
    # In slow motion, every picture says how slow.
    slower = frames_per_cycle / _FRAMES_PER_S / scene.span_s
    style.head(scene.figure, style.describe(gait),
               f"{slower:.3g} times slower than the robot; full dot: foot on the surface")
    images: list[Image.Image] = []
    for share in np.arange(scene.cycles * frames_per_cycle) / frames_per_cycle:
        picture = Image.fromarray(scene.picture(share))
        # One palette for all lets the file keep only what has changed from picture to picture.
        palette = images[0] if images else None
        images.append(picture.quantize(_COLOUR_COUNT, Image.Quantize.MAXCOVERAGE, palette=palette,
                                       dither=Image.Dither.NONE))
    images[0].save(path, format="GIF", save_all=True, append_images=images[1:], loop=0,
                   duration=1000 // _FRAMES_PER_S)
    return scene.figure


class _Motion:
    """Everything that is drawn, at any share of a cycle or hop, in the surface frame."""

    def __init__(self, gait: Gait, robot: robot_pb2.Robot):
        time = style.TimeAxis(gait)
        turn = rotation(gait.body_attitude_rad)

        def carried(point_m: np.ndarray) -> np.ndarray:
            at_m = gait.body_position_m[:, None, :] + np.einsum("nij,pj->npi", turn, point_m)
            return time.knots(at_m, gait.moved_on)

        self._gait = gait
        self._share = np.linspace(0.0, 1.0, len(time.at_knot))
        self._contact = time.intervals(gait.is_contact)
        self.foot_m = time.knots(foot_position_m(gait, robot), gait.moved_on)
        self.hip_m = carried(hip_m(robot))
        self.side_m, self.top_m = map(carried, _outlines(robot))

    def points(self, table_m: np.ndarray, share: float) -> np.ndarray:
        """Returns a row of one of the tables above between two knots, P x 3, m."""
        whole, part = divmod(share, 1.0)
        place = part * (len(self._share) - 1)
        knot = min(int(place), len(self._share) - 2)
        row = table_m[knot] + (place - knot) * (table_m[knot + 1] - table_m[knot])
        return self._gait.moved_on(row, whole)

    def contact(self, share: float) -> np.ndarray:
        """Returns which feet bear load, F, bool."""
        return self._contact[int((share % 1.0) * len(self._contact))]

    def box_m(self, cycles: int) -> tuple[np.ndarray, np.ndarray]:
        """Returns the lower and the upper corner of all that is drawn in so many cycles, m."""
        every = np.concatenate([table.reshape(-1, 3) for table in
                                (self.foot_m, self.hip_m, self.side_m, self.top_m)])
        laps = [self._gait.moved_on(every, lap) for lap in range(cycles)]
        return (np.min([lap.min(axis=0) for lap in laps], axis=0) - _ROOM_M,
                np.max([lap.max(axis=0) for lap in laps], axis=0) + _ROOM_M)


def _outlines(robot: robot_pb2.Robot) -> tuple[np.ndarray, np.ndarray]:
    """Returns the corners of the body's middle planes, upright and level, 4 x 3 each, m."""
    center_m = np.array(robot.body.center_of_mass_m or (0.0, 0.0, 0.0))
    if len(robot.body.size_m) == 3:
        x_m, y_m, z_m = np.array(robot.body.size_m) / 2
    else:  # no size is given: as long and wide as its hips
        x_m, y_m, z_m = np.maximum(np.abs(hip_m(robot)).max(axis=0, initial=0.0), 1e-3)
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return (center_m + np.array([(a * x_m, 0.0, b * z_m) for a, b in signs]),
            center_m + np.array([(a * x_m, b * y_m, 0.0) for a, b in signs]))


class _View:
    """One of the two drawings: from the side (x and z) or from above (x and y)."""

    def __init__(self, axes: Axes, across: int, outline_m: np.ndarray, motion: _Motion,
                 is_near: np.ndarray):
        self._across = across
        self._outline_m = outline_m
        self._motion = motion
        self._body = axes.fill([], [], facecolor=style.LIGHT, edgecolor=style.DARK, zorder=2)[0]
        self._legs = []
        for near in is_near:
            # A leg on the far side of the body is thin and lies behind it.
            self._legs.append(axes.plot([], [], color=style.DARK if near else style.GREY,
                                        linewidth=1.8 if near else 1.0, zorder=3 if near else 1)[0])
        self._dots = [axes.plot([], [], marker="o", markersize=6, linestyle="none", zorder=4,
                                color=style.DARK)[0] for _ in is_near]

    def show(self, share: float) -> None:
        """Moves everything to where it is at a share of a cycle."""
        shown = [0, self._across]
        motion = self._motion
        self._body.set_xy(motion.points(self._outline_m, share)[:, shown] * 1e3)
        hips = motion.points(motion.hip_m, share)[:, shown] * 1e3
        feet = motion.points(motion.foot_m, share)[:, shown] * 1e3
        for leg, dot, hip, foot, bears in zip(self._legs, self._dots, hips, feet,
                                              motion.contact(share)):
            leg.set_data([hip[0], foot[0]], [hip[1], foot[1]])
            dot.set_data([foot[0]], [foot[1]])
            dot.set_markerfacecolor(style.DARK if bears else "white")


class _Scene:
    """The figure with its two views."""

    def __init__(self, gait: Gait, robot: robot_pb2.Robot, cycles: int):
        motion = _Motion(gait, robot)
        self.cycles = cycles
        self.span_s = gait.knot_period_s * (gait.knot_count - (0 if gait.is_periodic else 1))
        low_mm, high_mm = (1e3 * corner for corner in motion.box_m(cycles))
        size_mm = high_mm - low_mm
        # A hop stays where it is; room beside it keeps the picture from growing tall.
        room_mm = max(0.0, size_mm[1] + size_mm[2] - size_mm[0]) / 2
        low_mm[0], high_mm[0] = low_mm[0] - room_mm, high_mm[0] + room_mm
        inches_per_mm = (style.WIDTH_IN - 0.7) / (high_mm[0] - low_mm[0])
        self.figure = style.new_figure(inches_per_mm * (size_mm[1] + size_mm[2]) + 1.2)
        self.figure.set_dpi(_DOTS_PER_INCH)
        side, top = self.figure.subplots(
            2, 1, sharex=True, gridspec_kw={"height_ratios": [size_mm[2], size_mm[1]]})
        is_right = motion.hip_m[0, :, 1] <= 0.0
        self._views = [_View(side, 2, motion.side_m, motion, is_right),
                       _View(top, 1, motion.top_m, motion, np.ones_like(is_right))]
        side.axhline(0.0, color=style.GREY, linewidth=1.0, zorder=0)
        for axes, across, label in ((side, 2, "height z (mm)"), (top, 1, "sideways y (mm)")):
            axes.set_aspect("equal")
            axes.set_xlim(low_mm[0], high_mm[0])
            axes.set_ylim(low_mm[across], high_mm[across])
            axes.set_ylabel(label)
        top.set_xlabel("way forward x (mm)")

    def picture(self, share: float) -> np.ndarray:
        """Returns the picture at a share of a cycle, height x width x 3, 0 to 255."""
        for view in self._views:
            view.show(share)
        self.figure.canvas.draw()
        # Laid out once: the frame must stand still, and laying out takes most of the time.
        self.figure.set_layout_engine("none")
        return np.asarray(self.figure.canvas.buffer_rgba())[:, :, :3]
