"""What can be asked of a server about trials."""
from __future__ import annotations

from typing import Iterable, Optional

import grpc

from gaitshelf.v1 import trial_analysis_pb2, trial_pb2, trial_service_pb2, trial_service_pb2_grpc

from .trials import TrialLog, TrialPose, logs_of, pose_of, upload_requests

# Time that the upload or the analysis of the largest trial may take.
_LONG_S = 1800.0


class TrialCalls:
    """The part of Client that is about trials; Client has the connection that it uses."""

    _trials: trial_service_pb2_grpc.TrialServiceStub

    def put_trial(self, trial: trial_pb2.Trial, logs: Iterable[TrialLog]) -> trial_pb2.Trial:
        """Stores a measured run with its logs and returns it as it is stored.

        trial: its description without groups; for a trial of a gait kind and gait suffice.

        Raises InvalidRequest with every fault, which names row and column, and NotFound.
        """
        requests = upload_requests(trial, list(logs))
        return self._call(self._trials.UploadTrial, requests, _LONG_S).trial

    def trial(self, name: str) -> trial_pb2.Trial:
        """Returns the description of a trial; raises NotFound."""
        return self._call(self._trials.GetTrial, trial_service_pb2.GetTrialRequest(name=name))

    def trials(self, robot: str = "", gait: str = "") -> "list[trial_pb2.Trial]":
        """Returns descriptions of the library's trials, newest first."""
        request = trial_service_pb2.ListTrialsRequest(robot=robot, gait=gait, page_size=1000)
        trials = []
        while True:
            page = self._call(self._trials.ListTrials, request)
            trials += page.trials
            if not page.next_page_token:
                return trials
            request.page_token = page.next_page_token

    def trial_logs(self, name: str) -> "list[TrialLog]":
        """Returns the samples of a trial as they were uploaded; raises NotFound."""
        trial = self.trial(name)
        request = trial_service_pb2.StreamTrialSamplesRequest(name=name)
        try:
            return logs_of(trial, list(self._trials.StreamTrialSamples(request, timeout=_LONG_S)))
        except grpc.RpcError as error:
            raise self._translate(error) from None

    def analyse_trial(self, name: str, *, greatest_delay_s: float = 0.0,
                      left_out_count: int = 1) -> trial_analysis_pb2.TrialAnalysis:
        """Returns what a trial of a gait shows; raises NotFound, InvalidRequest.

        greatest_delay_s: the tracking system is known to lag by less than this, s; 0 when unknown.
        left_out_count: cycles at the start that do not count.
        """
        options = trial_analysis_pb2.AnalysisOptions(greatest_delay_s=greatest_delay_s,
                                                     left_out_count=left_out_count)
        request = trial_service_pb2.AnalyseTrialRequest(name=name, options=options)
        return self._call(self._trials.AnalyseTrial, request, _LONG_S).analysis

    def compare_trial(self, name: str, *, greatest_delay_s: float = 0.0,
                      left_out_count: int = 1) -> trial_analysis_pb2.TrialComparison:
        """Sets a trial beside plan, replay and hand-tuned gait. Arguments as for analyse_trial."""
        options = trial_analysis_pb2.AnalysisOptions(greatest_delay_s=greatest_delay_s,
                                                     left_out_count=left_out_count)
        request = trial_service_pb2.CompareTrialRequest(name=name, options=options)
        return self._call(self._trials.CompareTrial, request, _LONG_S).comparison

    def trial_pose(self, name: str, *, delay_s: Optional[float] = None, greatest_delay_s: float = 0.0,
                   sample_rate_hz: float = 0.0) -> TrialPose:
        """Estimates the pose of the body through a trial, as a control loop would have known it.

        delay_s: tracked poses come late by this, s; None has it found as analyse_trial does.
        greatest_delay_s: the tracking system is known to lag by less than this, s; 0 when unknown.
        sample_rate_hz: poses a second, Hz; 0 for one at each step of the controller.

        Raises NotFound, InvalidRequest, and GaitshelfError when the trial lacks what it needs.
        """
        request = trial_service_pb2.StreamTrialPoseRequest(
            name=name, delay_s=delay_s, sample_rate_hz=sample_rate_hz,
            options=trial_analysis_pb2.AnalysisOptions(greatest_delay_s=greatest_delay_s))
        try:
            return pose_of(list(self._trials.StreamTrialPose(request, timeout=_LONG_S)))
        except grpc.RpcError as error:
            raise self._translate(error) from None
