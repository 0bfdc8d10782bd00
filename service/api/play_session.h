// Serves PlaySession: carries messages between gRPC and a Session, which decides what is said.
#ifndef GAITSHELF_SERVICE_API_PLAY_SESSION_H_
#define GAITSHELF_SERVICE_API_PLAY_SESSION_H_

#include <chrono>

#include <grpcpp/server_context.h>
#include <grpcpp/support/server_callback.h>

#include "gaitshelf/v1/playback_service.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"
#include "service/api/ticker.h"
#include "service/playback/armed_drives.h"

namespace gaitshelf::service {

// What all sessions share; outlives them.
struct SessionRoom {
  House* house = nullptr;
  Admission places;
  ArmedDrives drives;
  // Sessions that are due are served together, which costs half of what each by itself would: fewer
  // wakes. A block leaves at most so much later than it is due, a quarter of the shortest lead.
  Ticker ticker{std::chrono::milliseconds(25)};

  SessionRoom(House* the_house, Admission::Limits limits)
      : house(the_house), places(limits, "sessions", "TOO_MANY_SESSIONS", the_house->places) {}
};

using SessionReactor = grpc::ServerBidiReactor<v1::PlaySessionRequest, v1::PlaySessionResponse>;

// Takes a call; the reactor deletes itself when the call is over.
SessionReactor* ReceiveSession(SessionRoom* room, grpc::CallbackServerContext* context);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_PLAY_SESSION_H_
