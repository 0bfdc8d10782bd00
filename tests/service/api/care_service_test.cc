#include "service/api/care_service.h"

#include <filesystem>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using test::ReasonOf;
using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;

class CareServiceTest : public test::ServedLibrary {
 protected:
  void SetUp() override {
    options_.care.backup_folder = folder_.File("backups");
    options_.care.most_bundle_bytes = 10 << 20;
    std::filesystem::create_directory(options_.care.backup_folder);
    ServedLibrary::SetUp();
    care_stub_ = v1::CareService::NewStub(channel_);
  }

  template <typename Request, typename Response>
  grpc::Status Call(grpc::Status (v1::CareService::Stub::*method)(grpc::ClientContext*,
                                                                  const Request&,
                                                                  Response*),
                    const Request& request,
                    Response* response) {
    grpc::ClientContext context;
    context.AddMetadata("gaitshelf-requester", "grace");
    return (care_stub_.get()->*method)(&context, request, response);
  }

  // A gait whose name is that of its content.
  v1::Gait StoreNamedGait() {
    StoreDescriptions();
    v1::Gait gait = test::MakeSineGait(robot_, {});
    gait.set_robot_digest(solver::RobotDigest(robot_));
    gait.set_surface_digest(solver::SurfaceDigest(surface_));
    gait.set_name(solver::GaitName(gait));
    key_ = solver::OrderKey(gait.robot_digest(), gait.surface_digest(), MakeOrder());
    EXPECT_TRUE(library_->InsertGait(gait, key_).ok());
    return gait;
  }

  grpc::Status Export(const v1::ExportBundleRequest& request, std::string* file) {
    grpc::ClientContext context;
    const auto reader = care_stub_->ExportBundle(&context, request);
    v1::ExportBundleResponse response;
    while (reader->Read(&response)) {
      *file += response.piece();
    }
    return reader->Finish();
  }

  grpc::Status Import(const std::string& file,
                      v1::ImportBundleResponse* response,
                      std::size_t piece_size = 1000) {
    grpc::ClientContext context;
    context.AddMetadata("gaitshelf-requester", "grace");
    const auto writer = care_stub_->ImportBundle(&context, response);
    v1::ImportBundleRequest request;
    for (std::size_t at = 0; at < file.size(); at += piece_size) {
      request.set_piece(file.substr(at, piece_size));
      if (!writer->Write(request)) {
        break;
      }
    }
    writer->WritesDone();
    return writer->Finish();
  }

  std::string key_;
  std::unique_ptr<v1::CareService::Stub> care_stub_;
};

TEST_F(CareServiceTest, RetiresAndReinstatesAGaitAndLogsWhoDidIt) {
  const v1::Gait gait = StoreNamedGait();
  v1::RetireGaitRequest retire;
  retire.set_name(gait.name());
  retire.set_reason("measured with a bent leg");
  v1::RetireGaitResponse retired;
  ASSERT_THAT(Call(&v1::CareService::Stub::RetireGait, retire, &retired), IsGrpcOk());
  EXPECT_FALSE(library_->FindBestGait(key_).ok());
  v1::ListRetiredGaitsResponse list;
  ASSERT_THAT(Call(&v1::CareService::Stub::ListRetiredGaits, v1::ListRetiredGaitsRequest(), &list),
              IsGrpcOk());
  ASSERT_EQ(list.gaits_size(), 1);
  EXPECT_EQ(list.gaits(0).reason(), "measured with a bent leg");
  v1::ReinstateGaitRequest reinstate;
  reinstate.set_name(gait.name());
  v1::ReinstateGaitResponse reinstated;
  ASSERT_THAT(Call(&v1::CareService::Stub::ReinstateGait, reinstate, &reinstated), IsGrpcOk());
  EXPECT_TRUE(library_->FindBestGait(key_).ok());

  v1::ListChangesRequest newest;
  newest.set_page_size(2);
  v1::ListChangesResponse changes;
  ASSERT_THAT(Call(&v1::CareService::Stub::ListChanges, newest, &changes), IsGrpcOk());
  ASSERT_EQ(changes.changes_size(), 2);
  EXPECT_EQ(changes.changes(0).kind(), v1::CHANGE_KIND_REINSTATE_GAIT);
  EXPECT_EQ(changes.changes(1).kind(), v1::CHANGE_KIND_RETIRE_GAIT);
  EXPECT_EQ(changes.changes(1).requester(), "grace");
  EXPECT_EQ(changes.changes(1).subject(), gait.name());
  newest.set_page_token(changes.next_page_token());
  ASSERT_THAT(Call(&v1::CareService::Stub::ListChanges, newest, &changes), IsGrpcOk());
  EXPECT_EQ(changes.changes(0).kind(), v1::CHANGE_KIND_STORE_GAIT);
}

TEST_F(CareServiceTest, RefusesRequestsThatBreakARule) {
  v1::RetireGaitRequest retire;
  v1::RetireGaitResponse retired;
  EXPECT_THAT(BadFieldsOf(Call(&v1::CareService::Stub::RetireGait, retire, &retired)),
              ElementsAre("name"));
  retire.set_name("g-0");
  EXPECT_THAT(BadFieldsOf(Call(&v1::CareService::Stub::RetireGait, retire, &retired)),
              ElementsAre("reason"));
  retire.set_reason(std::string(201, 'x'));
  EXPECT_THAT(BadFieldsOf(Call(&v1::CareService::Stub::RetireGait, retire, &retired)),
              ElementsAre("reason"));
  retire.set_reason("no such gait");
  EXPECT_THAT(Call(&v1::CareService::Stub::RetireGait, retire, &retired),
              IsError(StatusCode::NOT_FOUND, HasSubstr("g-0")));
  v1::ReinstateGaitResponse reinstated;
  EXPECT_THAT(BadFieldsOf(Call(
                  &v1::CareService::Stub::ReinstateGait, v1::ReinstateGaitRequest(), &reinstated)),
              ElementsAre("name"));
  v1::ListChangesRequest changes;
  changes.set_page_size(1001);
  v1::ListChangesResponse listed;
  EXPECT_THAT(BadFieldsOf(Call(&v1::CareService::Stub::ListChanges, changes, &listed)),
              ElementsAre("page_size"));
  v1::CollectGarbageRequest garbage;
  garbage.set_retired_days(-1);
  v1::CollectGarbageResponse collected;
  EXPECT_THAT(BadFieldsOf(Call(&v1::CareService::Stub::CollectGarbage, garbage, &collected)),
              ElementsAre("retired_days"));
}

TEST_F(CareServiceTest, CarriesGaitsToAnotherLibraryOnce) {
  const v1::Gait gait = StoreNamedGait();
  std::string file;
  ASSERT_THAT(Export({}, &file), IsGrpcOk());
  server_.reset();
  std::filesystem::remove(folder_.File("library.db"));
  library_ = OpenSqliteLibrary(folder_.File("other.db"), library_options_).value();
  options_.library = library_.get();
  server_ = StartServer(options_).value();
  v1::ImportBundleResponse taken;
  ASSERT_THAT(Import(file, &taken), IsGrpcOk());
  EXPECT_EQ(taken.new_gait_count(), 1);
  EXPECT_EQ(taken.new_description_count(), 2);
  EXPECT_EQ(library_->FindBestGait(key_)->name(), gait.name());
  ASSERT_THAT(Import(file, &taken, 900000), IsGrpcOk());
  EXPECT_EQ(taken.new_gait_count(), 0);
  EXPECT_EQ(taken.known_gait_count(), 1);
  EXPECT_EQ(taken.known_description_count(), 2);
  EXPECT_EQ(library_->ListChanges({})->changes.front().requester(), "grace");
}

TEST_F(CareServiceTest, TakesNothingOfATornBundle) {
  StoreNamedGait();
  std::string file;
  ASSERT_THAT(Export({}, &file), IsGrpcOk());
  const auto before = library_->ListChanges({})->changes.size();
  v1::ImportBundleResponse taken;
  EXPECT_THAT(Import(file.substr(0, file.size() - 10), &taken),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("ends early")));
  EXPECT_THAT(Import("", &taken), IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("no bundle")));
  EXPECT_THAT(Import(std::string(11 << 20, 'x'), &taken, 900000),
              IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("more than")));
  EXPECT_EQ(library_->ListChanges({})->changes.size(), before);
}

TEST_F(CareServiceTest, ExportsWhatWasNamedOrMatches) {
  const v1::Gait gait = StoreNamedGait();
  v1::ExportBundleRequest request;
  request.set_robot("another");
  std::string none;
  ASSERT_THAT(Export(request, &none), IsGrpcOk());
  EXPECT_LT(none.size(), 100U);
  request.clear_robot();
  request.add_gaits(gait.name());
  std::string file;
  ASSERT_THAT(Export(request, &file), IsGrpcOk());
  EXPECT_GT(file.size(), gait.ByteSizeLong());
  request.set_only_good(true);
  EXPECT_THAT(BadFieldsOf(Export(request, &file)), ElementsAre("gaits"));
  request.set_only_good(false);
  request.add_gaits("g-0");
  EXPECT_THAT(Export(request, &file), IsError(StatusCode::NOT_FOUND, HasSubstr("g-0")));
}

TEST_F(CareServiceTest, CollectsGarbageAfterADryRun) {
  const v1::Gait gait = StoreNamedGait();
  ASSERT_TRUE(
      library_->RetireGait({.gait = gait.name(), .reason = "old", .requester = "ada"}).ok());
  v1::CollectGarbageRequest request;
  request.set_is_dry_run(true);
  v1::CollectGarbageResponse response;
  ASSERT_THAT(Call(&v1::CareService::Stub::CollectGarbage, request, &response), IsGrpcOk());
  EXPECT_THAT(response.gaits(), ElementsAre(gait.name()));
  EXPECT_TRUE(library_->GetGaitSummary(gait.name()).ok());
  request.set_is_dry_run(false);
  ASSERT_THAT(Call(&v1::CareService::Stub::CollectGarbage, request, &response), IsGrpcOk());
  EXPECT_FALSE(library_->GetGaitSummary(gait.name()).ok());
}

TEST_F(CareServiceTest, BacksUpIntoTheServersFolder) {
  StoreNamedGait();
  v1::BackUpResponse response;
  ASSERT_THAT(Call(&v1::CareService::Stub::BackUp, v1::BackUpRequest(), &response), IsGrpcOk());
  EXPECT_EQ(response.gait_count(), 1);
  const auto copy = OpenSqliteLibrary(response.path(), library_options_);
  ASSERT_TRUE(copy.ok());
  EXPECT_TRUE((*copy)->FindBestGait(key_).ok());
  EXPECT_THAT(log_.lines(), testing::Contains(AllOf(HasSubstr("backup"), HasSubstr("grace"))));
}

class CareServiceWithoutFolderTest : public test::ServedLibrary {};

TEST_F(CareServiceWithoutFolderTest, SaysHowToGiveAFolderForBackups) {
  const auto stub = v1::CareService::NewStub(channel_);
  grpc::ClientContext context;
  v1::BackUpResponse response;
  const grpc::Status status = stub->BackUp(&context, {}, &response);
  EXPECT_THAT(status, IsError(StatusCode::FAILED_PRECONDITION, HasSubstr("--backups FOLDER")));
  EXPECT_EQ(ReasonOf(status), "NO_BACKUP_FOLDER");
}

}  // namespace
}  // namespace gaitshelf::service
