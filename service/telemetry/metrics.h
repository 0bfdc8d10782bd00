// Serves the server's numbers to Prometheus, over HTTP on this machine.
#ifndef GAITSHELF_SERVICE_TELEMETRY_METRICS_H_
#define GAITSHELF_SERVICE_TELEMETRY_METRICS_H_

#include <functional>
#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "service/telemetry/call_meter.h"
#include "service/telemetry/condition.h"

namespace gaitshelf::service {

struct MetricsSources {
  std::function<Condition()> condition;
  std::function<CallMeter::Reading()> calls;
};

class Metrics {
 public:
  virtual ~Metrics() = default;
  Metrics(const Metrics&) = delete;
  Metrics& operator=(const Metrics&) = delete;

  virtual int port() const = 0;

  // Serves http://ADDRESS/metrics, such as 127.0.0.1:9464; port 0 takes a free one. The sources are
  // asked at every scrape, from other threads, while this lives.
  //
  // Errors:
  //   kFailedPrecondition   the address cannot be used
  static absl::StatusOr<std::unique_ptr<Metrics>> Serve(const std::string& address,
                                                        const MetricsSources& sources);

 protected:
  Metrics() = default;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_TELEMETRY_METRICS_H_
