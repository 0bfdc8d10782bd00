// A controller's side of a session: arms it, keeps the buffer of the control loop filled, and takes
// commands. Two threads of its own talk to the server; the loop never waits for them.
//
// What it drives moves and stands under high voltage. A present person arms it, every time; keep an
// emergency stop that does not depend on this program.
#ifndef GAITSHELF_CLIENTS_CONTROLLER_CONTROLLER_H_
#define GAITSHELF_CLIENTS_CONTROLLER_CONTROLLER_H_

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <grpcpp/channel.h>

#include "gaitshelf/v1/playback_service.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "clients/controller/setpoint.h"
#include "clients/controller/setpoint_player.h"

namespace gaitshelf::client {

struct ControllerOptions {
  // Names of the gaits that may be played, the first one first.
  std::vector<std::string> gaits;
  double sample_rate_hz = 1000.0;  // of the control loop
  double lead_s = 0.0;             // what the buffer can outlast; 0: the server's own
  double silence_s = 0.0;          // after which the server takes the loop for gone; 0: its own
  int drive_bits = 0;              // of the converter; 0: no rounding
  // Who arms which drive stage, unless the setpoints are only looked at.
  bool is_preview = false;
  std::string armed_by;
  std::string drive;
  // Asked before the drive is taken, and so before anything moves: true when the present person
  // says so, by a line in hardware or by a typed word. There is no default. Not asked for a
  // preview.
  std::function<bool()> confirm;
  // How long a server may take to answer, s. One that does not is given up: the loop leads to rest.
  double answer_limit_s = 5.0;
};

class Controller {
 public:
  // Asks the present person, then arms a session over the channel and waits until the server has
  // answered. Nothing is sent without a yes.
  //
  // Errors:
  //   kFailedPrecondition   there is no confirm, or it said no; or as PlaySession
  //   kDeadlineExceeded     no answer within the limit
  //   others                as PlaySession
  static absl::StatusOr<std::unique_ptr<Controller>> Arm(
      const std::shared_ptr<grpc::Channel>& channel,
      const ControllerOptions& options);

  // Stops the session. Waits for the server, but never longer than twice the limit of an answer.
  virtual ~Controller() = default;
  Controller(const Controller&) = delete;
  Controller& operator=(const Controller&) = delete;

  // ---- For the control loop ----

  // Gives the setpoint of this period: never blocks, never allocates, never fails. When setpoints
  // run out, or hold nonsense, it leads to rest by itself.
  virtual PlayState Next(Setpoint* setpoint) = 0;

  // ---- For other threads. Each waits for the server's answer. ----

  // Errors:
  //   kFailedPrecondition, kInvalidArgument   the server refused; the message says why
  //   kUnavailable                            the session has ended
  //   kDeadlineExceeded                       no answer within the limit; the session is given up
  virtual absl::Status Start() = 0;
  virtual absl::Status SwitchTo(const std::string& gait, std::optional<double> phase_ratio) = 0;
  // A share of the planned frequency, 0.05 to 1.
  virtual absl::Status SetPace(double pace_ratio) = 0;
  virtual absl::Status Stop() = 0;

  // Gives up the session without the server: the loop leads to rest from its next period on.
  virtual void RampDown() = 0;

  virtual const Limits& limits() const = 0;
  virtual std::int64_t played_count() const = 0;
  virtual std::int64_t underrun_count() const = 0;
  // Setpoints of the session that had to be held to its limits: 0 unless the server or the line
  // does not do what it says.
  virtual std::int64_t held_back_count() const = 0;
  // The fewest setpoints that were left in the buffer while more were to come: how near it was to
  // running out. The whole buffer before the loop plays.
  virtual std::int64_t least_left_count() const = 0;
  // How the session ended; kUnknown while it runs.
  virtual absl::Status end() const = 0;

 protected:
  Controller() = default;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_CONTROLLER_H_
