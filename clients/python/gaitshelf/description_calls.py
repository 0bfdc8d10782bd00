"""What can be asked of a server about robots and surfaces."""
from __future__ import annotations

from pathlib import Path
from typing import Union

from gaitshelf.v1 import (library_service_pb2, library_service_pb2_grpc, model_service_pb2,
                          model_service_pb2_grpc, robot_pb2, surface_pb2)

from .errors import InvalidRequest, from_violations
from .gait import Gait

# What ReadRobot and ReadSurface take.
_MOST_TEXT_BYTES = 524288
# Foot conditions by the names that users write.
_FEET = {"sliding": model_service_pb2.FOOT_CONDITION_SLIDING,
         "sticking": model_service_pb2.FOOT_CONDITION_STICKING,
         "free": model_service_pb2.FOOT_CONDITION_FREE_FLIGHT,
         "clamped": model_service_pb2.FOOT_CONDITION_CLAMPED}


class DescriptionCalls:
    """The part of Client that is about descriptions; Client has the connection that it uses."""

    _library: library_service_pb2_grpc.LibraryServiceStub
    _model: model_service_pb2_grpc.ModelServiceStub

    def read_robot(self, path: Union[str, Path]) -> robot_pb2.Robot:
        """Returns the robot of a text file, to be changed and put; values are not checked.

        Raises InvalidRequest with every fault of the text, its line and its column.
        """
        request = model_service_pb2.ReadRobotRequest(text=_text_of(path))
        answer = self._call(self._model.ReadRobot, request)
        if answer.violations:
            raise from_violations(str(path), answer.violations)
        return answer.robot

    def read_surface(self, path: Union[str, Path]) -> surface_pb2.Surface:
        """Returns the surface of a text file; as read_robot."""
        request = model_service_pb2.ReadSurfaceRequest(text=_text_of(path))
        answer = self._call(self._model.ReadSurface, request)
        if answer.violations:
            raise from_violations(str(path), answer.violations)
        return answer.surface

    def _robot(self, robot: Union[robot_pb2.Robot, str, Path]) -> robot_pb2.Robot:
        return robot if isinstance(robot, robot_pb2.Robot) else self.read_robot(robot)

    def _surface(self, surface: Union[surface_pb2.Surface, str, Path]) -> surface_pb2.Surface:
        return surface if isinstance(surface, surface_pb2.Surface) else self.read_surface(surface)

    def put_robot(self, robot: Union[robot_pb2.Robot, str, Path]) -> library_service_pb2.StoredRobot:
        """Stores a robot, given as a message or as the path of its text file.

        A changed description becomes the next version. Raises InvalidRequest with every fault.
        """
        request = library_service_pb2.PutRobotRequest(robot=self._robot(robot))
        return self._call(self._library.PutRobot, request).stored

    def put_surface(self, surface: Union[surface_pb2.Surface, str, Path]
                    ) -> library_service_pb2.StoredSurface:
        """Stores a surface; as put_robot."""
        request = library_service_pb2.PutSurfaceRequest(surface=self._surface(surface))
        return self._call(self._library.PutSurface, request).stored

    def robots(self) -> list[library_service_pb2.StoredRobot]:
        """Returns the current version of every robot, by name."""
        return list(self._call(self._library.ListRobots,
                               library_service_pb2.ListRobotsRequest()).robots)

    def surfaces(self) -> list[library_service_pb2.StoredSurface]:
        """Returns the current version of every surface, by name."""
        return list(self._call(self._library.ListSurfaces,
                               library_service_pb2.ListSurfacesRequest()).surfaces)

    def check_robot(self, robot: Union[robot_pb2.Robot, str, Path]
                    ) -> model_service_pb2.CheckRobotResponse:
        """Checks a robot and stores nothing; returns every fault, and more when there is none.

        violations: every fault, none when the robot is fit for use. warnings: numbers that are
        allowed but far from any that was measured. compiled_legs: how well linkages were compiled.
        A fault or warning has field, value, problem and mend.
        """
        request = model_service_pb2.CheckRobotRequest(robot=self._robot(robot))
        return self._call(self._model.CheckRobot, request)

    def check_surface(self, surface: Union[surface_pb2.Surface, str, Path]
                      ) -> model_service_pb2.CheckSurfaceResponse:
        """Checks a surface and stores nothing; returns violations and warnings as check_robot."""
        request = model_service_pb2.CheckSurfaceRequest(surface=self._surface(surface))
        return self._call(self._model.CheckSurface, request)

    def modes(self, robot: Union[robot_pb2.Robot, str, Path], *, feet: str = "",
              frequency_hz: float = 0.0, duty_ratio: float = 0.0
              ) -> model_service_pb2.FindModesResponse:
        """Returns the modes of a robot about its straight posture, and what its legs reach.

        robot: a message, the name of a robot in the library, or the path of its text file, which
        ends in ".textproto".
        feet: "sliding", "sticking", "free" (in flight) or "clamped"; the server chooses when empty.
        frequency_hz: stride frequency; the answer's warnings say when it sits on a mode.
        duty_ratio: share of the cycle for which a foot stands; 0.5 when 0.

        Raises InvalidRequest, NotFound, and GaitshelfError when the robot cannot stand.
        """
        if feet and feet not in _FEET:
            raise InvalidRequest(f"feet is '{feet}'; use {', '.join(_FEET)}", "INVALID_ARGUMENT")
        request = model_service_pb2.FindModesRequest(
            foot_condition=_FEET.get(feet, model_service_pb2.FOOT_CONDITION_UNSPECIFIED),
            stride_frequency_hz=frequency_hz, duty_ratio=duty_ratio)
        if isinstance(robot, str) and not robot.endswith(".textproto"):
            request.name = robot
        else:
            request.robot.CopyFrom(self._robot(robot))
        return self._call(self._model.FindModes, request)

    def robot_of(self, gait: Gait) -> robot_pb2.Robot:
        """Returns the exact version of the robot that a gait was solved for."""
        request = library_service_pb2.GetRobotRequest(name=gait.robot, digest=gait.robot_digest)
        return self._call(self._library.GetRobot, request).robot

    def surface_of(self, gait: Gait) -> surface_pb2.Surface:
        """Returns the exact version of the surface that a gait was solved for."""
        request = library_service_pb2.GetSurfaceRequest(name=gait.surface,
                                                        digest=gait.surface_digest)
        return self._call(self._library.GetSurface, request).surface


def _text_of(path: Union[str, Path]) -> bytes:
    with Path(path).open("rb") as file:
        text = file.read(_MOST_TEXT_BYTES + 1)
    if len(text) > _MOST_TEXT_BYTES:
        raise InvalidRequest(f"{path}: is larger than {_MOST_TEXT_BYTES} bytes; give the "
                             "description of one robot or one surface", "INVALID_ARGUMENT")
    return text
