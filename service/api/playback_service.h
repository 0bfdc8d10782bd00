// Serves PlaybackService: sends the samples of a stored gait at their pace. What the samples are is
// service/playback's.
#ifndef GAITSHELF_SERVICE_API_PLAYBACK_SERVICE_H_
#define GAITSHELF_SERVICE_API_PLAYBACK_SERVICE_H_

#include "gaitshelf/v1/playback_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"
#include "service/api/play_session.h"

namespace gaitshelf::service {

struct PlaybackServiceOptions {
  Admission::Limits streams{.total = 32, .each = 16};
  Admission::Limits sessions{.total = 64, .each = 32};
};

// PlaySession is served by callbacks: a session reads and writes at the same time.
class PlaybackServiceHandler final
    : public v1::PlaybackService::WithCallbackMethod_PlaySession<v1::PlaybackService::Service> {
 public:
  PlaybackServiceHandler(House* house, const PlaybackServiceOptions& options)
      : house_(house),
        streams_(options.streams, "streams", "TOO_MANY_STREAMS", house->places),
        sessions_(house, options.sessions) {}

  grpc::Status StreamSetpoints(grpc::ServerContext* context,
                               const v1::StreamSetpointsRequest* request,
                               grpc::ServerWriter<v1::SetpointBlock>* writer) override;
  grpc::Status SampleGait(grpc::ServerContext* context,
                          const v1::SampleGaitRequest* request,
                          v1::SetpointBlock* response) override;

  SessionReactor* PlaySession(grpc::CallbackServerContext* context) override {
    return ReceiveSession(&sessions_, context);
  }

 private:
  House* house_;
  Admission streams_;
  SessionRoom sessions_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_PLAYBACK_SERVICE_H_
