"""What can be asked of a server about calibrations."""
from __future__ import annotations

import getpass
from typing import Callable, Iterable, Optional

import grpc

from gaitshelf.v1 import calibration_pb2, calibration_service_pb2, calibration_service_pb2_grpc

# Time that a calibration by the largest trials may take.
_LONG_S = 1800.0


class CalibrationCalls:
    """The part of Client that fits robots and surfaces to trials; Client has the connection."""

    _calibrations: calibration_service_pb2_grpc.CalibrationServiceStub

    def calibrate(self, trials: Iterable[str], *, tilt_uncertainty_rad: float = 0.0,
                  force_uncertainty_ratio: float = 0.0,
                  progress: Optional[Callable[[calibration_pb2.CalibrationProgress], None]] = None
                  ) -> calibration_pb2.Calibration:
        """Fits a robot and a surface to trials and returns what came of it, as it is kept.

        The current versions stay what they are until accept_calibration.

        trials: their names.
        tilt_uncertainty_rad: standard uncertainty of a tilted plane's angle, rad.
        force_uncertainty_ratio: the same of pull over normal force, as a share of it.
        progress: called now and then while it goes on.

        Raises InvalidRequest, NotFound, and GaitshelfError when the trials tell nothing.
        """
        options = calibration_pb2.CalibrationOptions(
            tilt_uncertainty_rad=tilt_uncertainty_rad,
            force_uncertainty_ratio=force_uncertainty_ratio)
        request = calibration_service_pb2.CalibrateRequest(trials=trials, options=options,
                                                           requester=getpass.getuser())
        calibration = calibration_pb2.Calibration()
        try:
            for part in self._calibrations.Calibrate(request):
                if part.HasField("calibration"):
                    calibration = part.calibration
                elif progress is not None:
                    progress(part.progress)
        except grpc.RpcError as error:
            raise self._translate(error) from None
        return calibration

    def calibration(self, name: str) -> calibration_pb2.Calibration:
        """Returns a calibration; raises NotFound."""
        request = calibration_service_pb2.GetCalibrationRequest(name=name)
        return self._call(self._calibrations.GetCalibration, request)

    def calibrations(self, robot: str = "", surface: str = ""
                     ) -> "list[calibration_pb2.Calibration]":
        """Returns the library's calibrations, newest first."""
        request = calibration_service_pb2.ListCalibrationsRequest(robot=robot, surface=surface)
        calibrations = []
        while True:
            page = self._call(self._calibrations.ListCalibrations, request)
            calibrations += page.calibrations
            if not page.next_page_token:
                return calibrations
            request.page_token = page.next_page_token

    def accept_calibration(self, name: str) -> calibration_service_pb2.AcceptCalibrationResponse:
        """Makes the calibrated robot and surface the current versions; raises NotFound.

        Ask a person first: orders by name go to these versions from then on.
        """
        request = calibration_service_pb2.AcceptCalibrationRequest(name=name,
                                                                   requester=getpass.getuser())
        return self._call(self._calibrations.AcceptCalibration, request)

    def replay(self, gait: str, *, robot_digest: str = "", surface_digest: str = ""
               ) -> calibration_service_pb2.ReplayGaitResponse:
        """Replays a gait on any version of its robot and surface; raises NotFound.

        robot_digest, surface_digest: of the versions; those that it was planned for when empty.
        """
        request = calibration_service_pb2.ReplayGaitRequest(
            gait=gait, robot_digest=robot_digest, surface_digest=surface_digest)
        return self._call(self._calibrations.ReplayGait, request, _LONG_S)
