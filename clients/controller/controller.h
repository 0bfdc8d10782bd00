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
  double lead_s = 0.25;            // what the buffer can outlast
  double silence_s = 0.5;          // after which the server takes the loop for gone
  int drive_bits = 0;              // of the converter; 0: no rounding
  // Who arms which drive stage, unless the setpoints are only looked at.
  bool is_preview = false;
  std::string armed_by;
  std::string drive;
  // Asked once everything is ready and before anything moves: true when the present person says so,
  // by a line in hardware or by a typed word. There is no default. Not asked for a preview.
  std::function<bool()> confirm;
};

class Controller {
 public:
  // Arms a session over the channel and waits until the server has answered.
  //
  // Errors:
  //   kFailedPrecondition   there is no confirm, or it said no; or as PlaySession
  //   others                as PlaySession
  static absl::StatusOr<std::unique_ptr<Controller>> Arm(
      const std::shared_ptr<grpc::Channel>& channel,
      const ControllerOptions& options);

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
  // How the session ended; kUnknown while it runs.
  virtual absl::Status end() const = 0;

 protected:
  Controller() = default;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_CONTROLLER_H_
