// Bundles whose bytes are sound: robots, surfaces and gaits that somebody else made up, with
// digests and names that fit. Each is imported into an empty library. What gets in must be of use
// there.
#include "service/api/bundle_content.h"

#include <cmath>
#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "tests/fuzz/input.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "service/library/stored_gait.h"
#include "service/playback/setpoint_source.h"
#include "solver/robot/digest.h"
#include "tests/fuzz/bundle_bytes.h"
#include "tests/fuzz/fresh_library.h"
#include "tests/fuzz/target.h"

namespace gaitshelf::fuzz {
namespace {

using service::Library;

// Digests of the descriptions that came last.
struct Digests {
  std::string robot;
  std::string surface;
};

v1::BundleEntry EntryOf(const Bundle::Item& item, Digests* last) {
  v1::BundleEntry entry;
  if (item.has_robot()) {
    *entry.mutable_robot() = item.robot();
    last->robot = solver::RobotDigest(item.robot());
  } else if (item.has_surface()) {
    *entry.mutable_surface() = item.surface();
    last->surface = solver::SurfaceDigest(item.surface());
  } else if (item.has_gait()) {
    v1::Gait gait = item.gait();
    if (!item.is_left()) {
      gait.set_robot_digest(last->robot);
      gait.set_surface_digest(last->surface);
      gait.set_name(solver::GaitName(gait));
    }
    entry.set_gait(gait.SerializeAsString());
  }
  return entry;
}

std::string BytesOf(const Bundle& bundle) {
  std::string bytes;
  service::BundleWriter writer = WriterTo(&bytes);
  Digests last;
  for (const Bundle::Item& item : bundle.items()) {
    if (item.content_case() != Bundle::Item::CONTENT_NOT_SET) {
      Require(writer.Add(EntryOf(item, &last)).ok(), "an entry can be written");
    }
  }
  Require(writer.Finish().ok(), "a bundle can be finished");
  return bytes;
}

absl::StatusOr<v1::ImportBundleResponse> Import(Library* library, const std::string& bytes) {
  Require(service::CheckWholeBundle(SourceOf(bytes, nullptr)).ok(), "the bytes are sound");
  return service::TakeBundle(library, SourceOf(bytes, nullptr), "fuzz");
}

std::string Exported(Library* library) {
  std::string bytes;
  service::BundleWriter writer = WriterTo(&bytes);
  const absl::Status status = service::GatherBundle(library, {}, &writer);
  Require(status.ok(), "what was imported can be exported: " + status.ToString());
  return bytes;
}

// Plays a quarter of a second, at most.
void Play(const v1::Gait& gait, const v1::Robot& robot) {
  absl::StatusOr<service::SetpointSource> source =
      service::SetpointSource::Create(gait, robot, {.duration_s = 0.1, .ramp_s = 0.1});
  if (!source.ok()) {
    // Drives may be too slow for anything.
    Require(absl::IsFailedPrecondition(source.status()),
            "a gait can be played or it is told why not: " + source.status().ToString());
    return;
  }
  constexpr int kMostSamples = 250;
  const v1::SetpointBlock block = source->NextBlock(kMostSamples);
  for (const double position_m : block.leg_position_m()) {
    Require(std::isfinite(position_m), "legs have a place");
  }
  for (const double rate_m_per_s : block.leg_rate_m_per_s()) {
    Require(std::isfinite(rate_m_per_s), "legs have a rate");
  }
  for (const double voltage_v : block.voltage_v()) {
    Require(std::isfinite(voltage_v), "drives have a voltage");
  }
}

void UseAll(Library* library) {
  const absl::StatusOr<service::GaitPage> page = library->ListGaits({}, {});
  Require(page.ok(), "gaits are listed");
  for (const v1::GaitSummary& summary : page->gaits) {
    const absl::StatusOr<v1::Gait> gait = service::LoadGait(library, summary.name());
    Require(gait.ok(), "a gait is read back: " + gait.status().ToString());
    const auto robot = library->GetRobot(gait->robot(), gait->robot_digest());
    Require(robot.ok(), "so is its robot: " + robot.status().ToString());
    Play(*gait, robot->robot());
  }
}

std::string CountsOf(Library* library) {
  return absl::StrCat(library->Count().value().gaits,
                      " ",
                      library->ListRobots().value().size(),
                      " ",
                      library->ListSurfaces().value().size());
}

void Try(const Bundle& bundle) {
  static const FreshLibraries libraries([](Library*) {});
  const std::string bytes = BytesOf(bundle);
  const std::unique_ptr<Library> library = libraries.Open("here.db");
  const auto taken = Import(library.get(), bytes);
  if (!taken.ok()) {
    Require(absl::IsInvalidArgument(taken.status()) && !taken.status().message().empty(),
            "what is not taken is told why: " + taken.status().ToString());
    Require(CountsOf(library.get()) == "0 0 0", "all of a bundle is taken or nothing");
    return;
  }
  const std::string counts = CountsOf(library.get());
  const auto again = Import(library.get(), bytes);
  Require(again.ok() && again->new_gait_count() == 0 && again->new_description_count() == 0,
          "the second time nothing is new");
  Require(CountsOf(library.get()) == counts, "and nothing changes");
  UseAll(library.get());
  const std::unique_ptr<Library> other = libraries.Open("there.db");
  const auto there = Import(other.get(), Exported(library.get()));
  Require(there.ok(), "what was exported can be imported: " + there.status().ToString());
  Require(there->new_gait_count() == taken->new_gait_count(), "with all gaits");
}

}  // namespace
}  // namespace gaitshelf::fuzz

GAITSHELF_FUZZ_MESSAGE(gaitshelf::fuzz::Bundle, gaitshelf::fuzz::Try);
