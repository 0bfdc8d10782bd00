// Serves PlaybackService: sends the samples of a stored gait at their pace. What the samples are is
// service/playback's.
#ifndef GAITSHELF_SERVICE_API_PLAYBACK_SERVICE_H_
#define GAITSHELF_SERVICE_API_PLAYBACK_SERVICE_H_

#include <chrono>

#include "gaitshelf/v1/playback_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"
#include "service/api/play_session.h"
#include "service/api/write_watchdog.h"

namespace gaitshelf::service {

struct PlaybackServiceOptions {
  int stream_limit = 32;
  int session_limit = 64;
  // A write that takes longer is given up: the client has stopped reading.
  std::chrono::milliseconds write_limit{10000};
};

// PlaySession is served by callbacks: a session reads and writes at the same time.
class PlaybackServiceHandler final
    : public v1::PlaybackService::WithCallbackMethod_PlaySession<v1::PlaybackService::Service> {
 public:
  PlaybackServiceHandler(House* house, const PlaybackServiceOptions& options)
      : house_(house),
        streams_(options.stream_limit),
        watchdog_(options.write_limit),
        sessions_(house, options.session_limit, options.write_limit) {}

  grpc::Status StreamSetpoints(grpc::ServerContext* context,
                               const v1::StreamSetpointsRequest* request,
                               grpc::ServerWriter<v1::SetpointBlock>* writer) override;
  grpc::Status SampleGait(grpc::ServerContext* context,
                          const v1::SampleGaitRequest* request,
                          v1::SetpointBlock* response) override;

  SessionReactor* PlaySession(grpc::CallbackServerContext* context) override {
    return ReceiveSession(&sessions_, context);
  }

  // Streams and sessions that run.
  int stream_count() const { return streams_.count() + sessions_.places.count(); }

 private:
  House* house_;
  Admission streams_;
  WriteWatchdog watchdog_;
  SessionRoom sessions_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_PLAYBACK_SERVICE_H_
