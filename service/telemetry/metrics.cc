#include "service/telemetry/metrics.h"

#include <cstddef>
#include <exception>
#include <limits>
#include <utility>
#include <vector>

#include <prometheus/collectable.h>
#include <prometheus/exposer.h>
#include <prometheus/metric_family.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::service {
namespace {

using prometheus::ClientMetric;
using prometheus::MetricFamily;
using prometheus::MetricType;

using Label = std::pair<const char*, std::string>;

ClientMetric Labelled(const std::vector<Label>& labels) {
  ClientMetric metric;
  for (const auto& [name, value] : labels) {
    metric.label.push_back({name, value});
  }
  return metric;
}

MetricFamily Family(const char* name, const char* help, MetricType type) {
  MetricFamily family;
  family.name = name;
  family.help = help;
  family.type = type;
  return family;
}

void AddGauge(double value, const std::vector<Label>& labels, MetricFamily* family) {
  ClientMetric metric = Labelled(labels);
  metric.gauge.value = value;
  family->metric.push_back(std::move(metric));
}

MetricFamily Gauge(const char* name, const char* help, double value) {
  MetricFamily family = Family(name, help, MetricType::Gauge);
  AddGauge(value, {}, &family);
  return family;
}

void AddCondition(const Condition& condition, std::vector<MetricFamily>* families) {
  families->push_back(
      Gauge("gaitshelf_well", "1 while the server can serve", ProblemsOf(condition).empty()));
  families->push_back(Gauge("gaitshelf_library_reachable",
                            "1 while the library answers",
                            condition.is_library_reachable));
  families->push_back(Gauge("gaitshelf_library_gaits",
                            "Gaits in the library",
                            static_cast<double>(condition.counts.gaits)));
  families->push_back(Gauge("gaitshelf_library_trials",
                            "Trials in the library",
                            static_cast<double>(condition.counts.trials)));
  MetricFamily jobs = Family("gaitshelf_open_jobs", "Jobs that wait or run", MetricType::Gauge);
  AddGauge(static_cast<double>(condition.counts.queued_jobs), {{"state", "queued"}}, &jobs);
  AddGauge(static_cast<double>(condition.counts.running_jobs), {{"state", "running"}}, &jobs);
  families->push_back(std::move(jobs));
  families->push_back(Gauge("gaitshelf_queue_limit",
                            "Most jobs that may be open",
                            static_cast<double>(condition.counts.queue_limit)));
  if (condition.free_disk_bytes >= 0) {
    families->push_back(Gauge("gaitshelf_disk_free_bytes",
                              "Free space beside the library",
                              static_cast<double>(condition.free_disk_bytes)));
  }
}

void AddCalls(const CallMeter::Reading& calls, std::vector<MetricFamily>* families) {
  MetricFamily ends = Family("gaitshelf_calls_total", "Calls that have ended", MetricType::Counter);
  for (const auto& [key, count] : calls.ends) {
    ClientMetric metric = Labelled({{"call", key.first}, {"code", key.second}});
    metric.counter.value = static_cast<double>(count);
    ends.metric.push_back(std::move(metric));
  }
  MetricFamily running = Family("gaitshelf_calls_running", "Calls under way", MetricType::Gauge);
  for (const auto& [call, count] : calls.running) {
    AddGauge(static_cast<double>(count), {{"call", call}}, &running);
  }
  MetricFamily durations =
      Family("gaitshelf_call_seconds", "How long calls took", MetricType::Histogram);
  for (const auto& [call, taken] : calls.durations) {
    ClientMetric metric = Labelled({{"call", call}});
    metric.histogram.sample_count = static_cast<std::uint64_t>(taken.count);
    metric.histogram.sample_sum = taken.sum_s;
    std::int64_t below = 0;
    for (std::size_t i = 0; i < taken.counts.size(); ++i) {
      below += taken.counts[i];
      ClientMetric::Bucket bucket;
      bucket.cumulative_count = static_cast<std::uint64_t>(below);
      bucket.upper_bound = i < CallMeter::kBounds_s.size()
                               ? CallMeter::kBounds_s[i]
                               : std::numeric_limits<double>::infinity();
      metric.histogram.bucket.push_back(bucket);
    }
    durations.metric.push_back(std::move(metric));
  }
  for (MetricFamily* family : {&ends, &running, &durations}) {
    families->push_back(std::move(*family));
  }
}

// Makes everything anew at each scrape.
class Numbers final : public prometheus::Collectable {
 public:
  explicit Numbers(MetricsSources sources) : sources_(std::move(sources)) {}

  std::vector<MetricFamily> Collect() const override {
    std::vector<MetricFamily> families;
    AddCondition(sources_.condition(), &families);
    AddCalls(sources_.calls(), &families);
    return families;
  }

 private:
  const MetricsSources sources_;
};

class HttpMetrics final : public Metrics {
 public:
  HttpMetrics(const std::string& address, const MetricsSources& sources)
      : numbers_(std::make_shared<Numbers>(sources)), exposer_(address, 1) {
    exposer_.RegisterCollectable(numbers_);
  }

  int port() const override {
    const std::vector<int> ports = exposer_.GetListeningPorts();
    return ports.empty() ? 0 : ports[0];
  }

 private:
  std::shared_ptr<Numbers> numbers_;
  prometheus::Exposer exposer_;  // goes first, so that no scrape is under way then
};

}  // namespace

absl::StatusOr<std::unique_ptr<Metrics>> Metrics::Serve(const std::string& address,
                                                        const MetricsSources& sources) {
  try {
    return std::make_unique<HttpMetrics>(address, sources);
  } catch (const std::exception& error) {  // the library below has no other way to say so
    return absl::FailedPreconditionError(absl::StrCat("cannot serve metrics on ",
                                                      address,
                                                      ": ",
                                                      error.what(),
                                                      "; another program may have the port"));
  }
}

}  // namespace gaitshelf::service
