// One session as its controller sees it: commands in, samples and answers out, to rest in the end.
// Knows no network; time is given to it.
#ifndef GAITSHELF_SERVICE_PLAYBACK_SESSION_H_
#define GAITSHELF_SERVICE_PLAYBACK_SESSION_H_

#include <cstdint>
#include <string>
#include <vector>

#include "gaitshelf/v1/playback_service.pb.h"

#include "absl/status/status.h"
#include "service/playback/lead_keeper.h"
#include "service/playback/session_sampler.h"

namespace gaitshelf::service {

class Session {
 public:
  using Clock = LeadKeeper::Clock;

  // A session that was armed as asked, defaults set. Its first response answers that command.
  Session(SessionSampler sampler, const v1::ArmSession& arm, Clock::time_point now);

  // Takes a message after the first. One that breaks a rule ends the session; a command that cannot
  // be carried out is answered as refused and changes nothing.
  void Take(const v1::PlaySessionRequest& request, Clock::time_point now);
  // Ends the session when its controller has been silent for too long, or has not started it.
  void CheckSilence(Clock::time_point now);
  // Leads the session to rest for a reason that the controller did not give. The way down is given
  // out at once: nobody may be left to say how far he is. The first reason counts.
  void LeadToRest(const absl::Status& reason);

  // Fills the next response if one is due. A response holds at least 50 ms of samples, or a fifth
  // of a short lead, unless there is an answer, or the end, to tell.
  bool NextResponse(Clock::time_point now, v1::PlaySessionResponse* response);

  // True when all has been given out.
  bool is_finished() const;
  // Why the session ends or has ended; OK when its controller stopped it.
  const absl::Status& end() const { return end_; }
  std::int64_t played_count() const { return keeper_.played_count(); }
  std::int64_t underrun_count() const { return underrun_count_; }

 private:
  absl::Status CheckMessage(const v1::PlaySessionRequest& request) const;
  void TakeCommand(const v1::PlaySessionRequest& request, Clock::time_point now);
  void Start(Clock::time_point now, v1::CommandAnswer* answer);
  void Switch(const v1::SwitchGait& command, v1::CommandAnswer* answer);
  void Change(const v1::ChangeRate& command, v1::CommandAnswer* answer);

  SessionSampler sampler_;
  LeadKeeper keeper_;
  Clock::time_point armed_;
  double lead_s_;
  double silence_s_;
  double block_s_;
  std::int64_t sequence_ = 1;  // of the last command
  std::int64_t underrun_count_ = 0;
  std::vector<v1::CommandAnswer> answers_;
  bool is_ending_ = false;  // asked for or not
  bool is_hurried_ = false;
  absl::Status end_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_SESSION_H_
