#include "service/access/role.h"

#include <filesystem>
#include <fstream>
#include <regex>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/paths.h"

namespace gaitshelf::service {
namespace {

// Calls of every service in proto/, as on the wire.
std::vector<std::string> AllCalls() {
  const std::regex service(R"(^service (\w+) \{)");
  const std::regex call(R"(^  rpc (\w+)\()");
  std::vector<std::string> calls;
  for (const auto& file :
       std::filesystem::directory_iterator(test::SourcePath("proto/gaitshelf/v1"))) {
    std::ifstream text(file.path());
    std::string line;
    std::string name;
    while (std::getline(text, line)) {
      std::smatch match;
      if (std::regex_search(line, match, service)) {
        name = match[1];
      } else if (std::regex_search(line, match, call)) {
        calls.push_back("/gaitshelf.v1." + name + "/" + std::string(match[1]));
      }
    }
  }
  return calls;
}

TEST(RoleTest, EveryCallOfOursHasOne) {
  const std::vector<std::string> calls = AllCalls();
  ASSERT_GT(calls.size(), 30U);
  for (const std::string& call : calls) {
    EXPECT_TRUE(NeededRole(call).has_value())
        << call << " has no role: add a line to service/access/role.cc";
  }
}

TEST(RoleTest, WhatIsNotOnTheTableIsNobodys) {
  for (const char* call : {"",
                           "/",
                           "/gaitshelf.v1.LibraryService/",
                           "/gaitshelf.v1.LibraryService/DropAll",
                           "/gaitshelf.v1.LibraryService/GetGait/",
                           "LibraryService/GetGait",
                           "/gaitshelf.v2.LibraryService/GetGait",
                           "/grpc.channelz.v1.Channelz/GetServers"}) {
    EXPECT_EQ(NeededRole(call), std::nullopt) << call;
  }
}

TEST(RoleTest, LookingIsForReadersWorkForPlannersAndCareForKeepers) {
  EXPECT_EQ(NeededRole("/gaitshelf.v1.LibraryService/GetGait"), Role::kReader);
  EXPECT_EQ(NeededRole("/grpc.health.v1.Health/Check"), Role::kReader);
  EXPECT_EQ(NeededRole("/gaitshelf.v1.JobService/OrderGait"), Role::kPlanner);
  EXPECT_EQ(NeededRole("/gaitshelf.v1.PlaybackService/PlaySession"), Role::kPlanner);
  EXPECT_EQ(NeededRole("/gaitshelf.v1.CareService/CollectGarbage"), Role::kKeeper);
  EXPECT_LT(Role::kReader, Role::kPlanner);
  EXPECT_LT(Role::kPlanner, Role::kKeeper);
}

TEST(RoleTest, NamesAreReadBack) {
  for (const Role role : {Role::kReader, Role::kPlanner, Role::kKeeper}) {
    EXPECT_EQ(ParseRole(RoleName(role)), role);
  }
  EXPECT_EQ(ParseRole("Keeper"), std::nullopt);
  EXPECT_EQ(ParseRole(""), std::nullopt);
}

}  // namespace
}  // namespace gaitshelf::service
