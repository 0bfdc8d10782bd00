// Writes the seeds of every fuzz target below a folder: invented descriptions and gaits, small,
// so that much of them is changed at a time. Usage: make_fuzz_seeds tests/fuzz/corpus
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>

#include <google/protobuf/text_format.h>

#include "tests/fuzz/input.pb.h"
#include "tests/fuzz/request.pb.h"

#include "tests/fuzz/bundle_bytes.h"
#include "tests/fuzz/sample_gait.h"
#include "tests/support/paths.h"
#include "tests/support/read_description.h"

namespace gaitshelf::fuzz {
namespace {

class Seeds {
 public:
  explicit Seeds(std::filesystem::path folder) : folder_(std::move(folder)) {}

  void Write(const std::string& target, const std::string& name, const std::string& bytes) const {
    std::filesystem::create_directories(folder_ / target);
    std::ofstream(folder_ / target / name, std::ios::binary) << bytes;
  }

 private:
  std::filesystem::path folder_;
};

std::string TextOf(const google::protobuf::Message& message) {
  std::string text;
  google::protobuf::TextFormat::PrintToString(message, &text);
  return text;
}

// A robot of the demonstration with its first leg only.
v1::Robot OneLegged(const std::string& file) {
  std::ifstream stream(test::SourcePath("deploy/demo/" + file));
  std::ostringstream text;
  text << stream.rdbuf();
  v1::Robot robot = test::ReadRobotText(text.str()).value();
  robot.mutable_legs()->DeleteSubrange(1, robot.legs_size() - 1);
  return robot;
}

void WriteDescriptions(const Seeds& seeds) {
  seeds.Write("description_text", "quadruped", TextOf(test::MakeQuadruped()));
  seeds.Write("description_text", "hexapod-with-skid", TextOf(test::MakeHexapod()));
  seeds.Write("description_text", "one-linkage", TextOf(OneLegged("weevil.robot.textproto")));
  seeds.Write("description_text", "surface", TextOf(test::MakeSurface(0.5, 0.1)));
}

void WriteDigested(const Seeds& seeds) {
  Digested robot;
  *robot.mutable_robot() = OneLegged("weevil.robot.textproto");
  seeds.Write("digest", "one-linkage", robot.SerializeAsString());
  Digested surface;
  *surface.mutable_surface() = test::MakeSurface(0.5, 0.1);
  seeds.Write("digest", "surface", surface.SerializeAsString());
  Digested gait;
  *gait.mutable_gait() = SampleGait();
  seeds.Write("digest", "gait", gait.SerializeAsString());
  Digested order;
  *order.mutable_order() = OrderOf(SampleGait());
  seeds.Write("digest", "order", order.SerializeAsString());
}

v1::BundleEntry GaitEntry(const v1::Gait& gait) {
  v1::BundleEntry entry;
  entry.set_gait(gait.SerializeAsString());
  return entry;
}

void WriteBundleFiles(const Seeds& seeds) {
  v1::BundleEntry surface;
  *surface.mutable_surface() = test::MakeSurface(0.5);
  std::string empty;
  static_cast<void>(WriterTo(&empty).Finish());
  seeds.Write("bundle_file", "empty", empty);
  std::string whole;
  service::BundleWriter writer = WriterTo(&whole);
  static_cast<void>(writer.Add(surface));
  static_cast<void>(writer.Add(GaitEntry(SampleGait())));
  // Lengths of several digits only, without an end: the target closes it.
  seeds.Write("bundle_file", "without-end", whole);
  static_cast<void>(writer.Finish());
  seeds.Write("bundle_file", "surface-and-gait", whole);
}

Bundle DescriptionsOf(const v1::Robot& robot) {
  Bundle bundle;
  *bundle.add_items()->mutable_robot() = robot;
  *bundle.add_items()->mutable_surface() = test::MakeSurface(0.5);
  return bundle;
}

void WriteBundles(const Seeds& seeds) {
  const v1::Robot robot = test::MakeQuadruped();
  Bundle walk = DescriptionsOf(robot);
  *walk.add_items()->mutable_gait() = SampleGait();
  seeds.Write("bundle_content", "walk", walk.SerializeAsString());
  Bundle hop = DescriptionsOf(robot);
  *hop.add_items()->mutable_gait() =
      MadeFor(robot, test::MakeSurface(0.5), test::MakeHop(robot, 6, 0.001));
  seeds.Write("bundle_content", "hop", hop.SerializeAsString());
  Bundle linkage = DescriptionsOf(OneLegged("weevil.robot.textproto"));
  seeds.Write("bundle_content", "one-linkage", linkage.SerializeAsString());
}

// Writes requests one by one.
class RequestSeeds {
 public:
  explicit RequestSeeds(const Seeds* seeds) : seeds_(seeds) {}
  void Write(const std::string& name, const Request& request) const {
    seeds_->Write("request", name, request.SerializeAsString());
  }

 private:
  const Seeds* seeds_;
};

void WriteLibraryRequests(const RequestSeeds& seeds) {
  Request put_robot;
  *put_robot.mutable_put_robot()->mutable_robot() = test::MakeQuadruped();
  seeds.Write("put-robot", put_robot);
  Request put_surface;
  *put_surface.mutable_put_surface()->mutable_surface() = test::MakeSurface(0.5, 0.1);
  seeds.Write("put-surface", put_surface);
  Request get_robot;
  get_robot.mutable_get_robot()->set_name(std::string(9000, 'n'));
  seeds.Write("get-robot-of-a-long-name", get_robot);
  Request get_gait;
  get_gait.mutable_get_gait()->set_name(SampleGait().name());
  seeds.Write("get-gait", get_gait);
  Request list;
  list.mutable_list_gaits()->set_page_size(1);
  seeds.Write("list-gaits", list);
  list.mutable_list_changes()->set_page_token("2");
  seeds.Write("list-changes", list);
  list.mutable_list_jobs()->set_only_open(true);
  seeds.Write("list-jobs", list);
  list.mutable_list_trials()->set_robot("quadruped");
  seeds.Write("list-trials", list);
  list.mutable_list_calibrations()->set_page_token("x");
  seeds.Write("list-calibrations", list);
  Request bundle;
  bundle.mutable_export_bundle()->add_gaits(SampleGait().name());
  seeds.Write("export-bundle", bundle);
}

void WriteOrders(const RequestSeeds& seeds) {
  Request request;
  *request.mutable_order_gait()->mutable_order() = OrderOf(SampleGait());
  seeds.Write("order-advance", request);
  v1::GaitOrder* order = request.mutable_order_gait()->mutable_order();
  order->mutable_task()->mutable_hop()->set_rise_m(0.005);
  seeds.Write("order-hop", request);
  order->mutable_task()->mutable_stand();
  seeds.Write("order-stand", request);
  Request find;
  *find.mutable_find_gait()->mutable_order() = OrderOf(SampleGait());
  seeds.Write("find-gait", find);
  Request cancel;
  cancel.mutable_cancel_job()->set_name("j-1");
  seeds.Write("cancel-job", cancel);
}

void WritePlays(const RequestSeeds& seeds) {
  const std::string gait = SampleGait().name();
  Request stream;
  stream.mutable_stream_setpoints()->set_gait(gait);
  stream.mutable_stream_setpoints()->set_duration_s(0.2);
  stream.mutable_stream_setpoints()->set_armed_by("ada");
  seeds.Write("stream-setpoints", stream);
  Request sample;
  sample.mutable_sample_gait()->set_gait(gait);
  sample.mutable_sample_gait()->set_sample_count(100);
  seeds.Write("sample-gait", sample);
  Request play;
  play.mutable_play_session()->set_pause_ms(20);
  std::int64_t sequence = 0;
  const auto add = [&]() {
    v1::PlaySessionRequest* message = play.mutable_play_session()->add_messages();
    message->set_sequence(++sequence);
    return message;
  };
  v1::ArmSession* arm = add()->mutable_arm();
  arm->add_gaits(gait);
  arm->set_is_preview(true);
  add()->mutable_start();
  add()->mutable_change_rate()->set_pace_ratio(0.5);
  add()->mutable_switch_gait()->set_gait(gait);
  add()->mutable_stop();
  seeds.Write("play-session", play);
}

void WriteUploads(const RequestSeeds& seeds) {
  Request walk;
  v1::Trial* trial = walk.mutable_upload_trial()->add_messages()->mutable_trial();
  trial->set_kind(v1::TRIAL_KIND_GAIT);
  trial->set_gait(SampleGait().name());
  v1::TrialGroup* group = trial->add_groups();
  group->set_name("on-board");
  group->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  for (const char* label : {"time [ms]", "phase", "leg-1 lift [um]", "leg-2 contact"}) {
    group->add_columns()->set_label(label);
  }
  v1::TrialBlock* block = walk.mutable_upload_trial()->add_messages()->mutable_block();
  for (const double value : {0.0, 0.0, 10.0, 1.0, 1.0, 0.01, 12.0, 1.0}) {
    block->add_values_as_labelled(value);
  }
  seeds.Write("upload-walk", walk);
  Request tilt;
  trial = tilt.mutable_upload_trial()->add_messages()->mutable_trial();
  trial->set_kind(v1::TRIAL_KIND_TILT);
  trial->set_surface("bench");
  group = trial->add_groups();
  group->set_name("bench");
  group->set_clock(v1::TRIAL_CLOCK_BENCH);
  group->add_columns()->set_label("tilt [deg]");
  block = tilt.mutable_upload_trial()->add_messages()->mutable_block();
  block->add_values_as_labelled(21.5);
  seeds.Write("upload-tilt", tilt);
}

void WriteRequests(const Seeds& all) {
  const RequestSeeds seeds(&all);
  WriteLibraryRequests(seeds);
  WriteOrders(seeds);
  WritePlays(seeds);
  WriteUploads(seeds);
}

}  // namespace
}  // namespace gaitshelf::fuzz

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: make_fuzz_seeds FOLDER\n";
    return 2;
  }
  const gaitshelf::fuzz::Seeds seeds(argv[1]);
  gaitshelf::fuzz::WriteDescriptions(seeds);
  gaitshelf::fuzz::WriteDigested(seeds);
  gaitshelf::fuzz::WriteBundleFiles(seeds);
  gaitshelf::fuzz::WriteBundles(seeds);
  gaitshelf::fuzz::WriteRequests(seeds);
  return 0;
}
