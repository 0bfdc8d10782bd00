// Where the lines of a log come from and go to: a file, and the libraries that would write their
// own lines to standard error beside ours.
#ifndef GAITSHELF_SERVICE_LOG_WRITE_EVENTS_H_
#define GAITSHELF_SERVICE_LOG_WRITE_EVENTS_H_

#include <cstdio>

#include "service/log/event.h"

namespace gaitshelf::service {

// Returns a log that writes a line for each event, with the time at which it hears of it. Lines
// stay whole, also from several threads. The file, such as stderr, outlives the log.
EventLog WriteEventsTo(std::FILE* file, LogFormat format);

// Has what protobuf says, such as of requests whose text is no UTF-8, go to the log, at most so
// many lines a second. For the whole process; before any message is read.
void KeepProtobufLog(EventLog log);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LOG_WRITE_EVENTS_H_
