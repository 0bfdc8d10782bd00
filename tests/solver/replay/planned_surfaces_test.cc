// One plan for several surfaces of the demonstration, replayed on each.
#include <algorithm>
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "solver/replay/audited_plan.h"
#include "solver/robot/digest.h"
#include "tests/support/demo.h"
#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

constexpr double kLongAdvanceM = 0.013;

PlanRequest RequestOn(const std::string& surface, double advance_m) {
  PlanRequest request;
  request.robot = test::ReadDemoRobot("weevil-lumped");
  request.surface = test::ReadDemoSurface(surface);
  request.order = test::MakeAdvanceOrder(12.0, advance_m);
  return request;
}

PlanRequest RequestOnAll(double advance_m) {
  PlanRequest request = RequestOn("duct-steel", advance_m);
  for (const char* name : {"grit-tape", "liner-felt"}) {
    request.also_on.push_back(test::ReadDemoSurface(name));
    request.order.add_also_on(name);
  }
  return request;
}

v1::Gait PlanAndAudit(const PlanRequest& request) {
  const auto plan = [](const PlanRequest& variant_request, int /*variant*/) {
    return PlanGait(variant_request, {});
  };
  const auto gait = PlanAudited(request, {.plan = plan, .audit = AuditGait});
  EXPECT_THAT(gait, test::IsOk());
  return gait.ok() ? *gait : v1::Gait();
}

// Good everywhere, and lawful everywhere: force for force the same motion.
void ExpectGoodOnAll(const v1::Gait& gait) {
  const v1::Audit& audit = gait.audit();
  EXPECT_EQ(audit.verdict(), v1::VERDICT_GOOD) << gait.report().reason() << audit.DebugString();
  ASSERT_EQ(audit.surfaces_size(), 3);
  double worst = 0.0;
  for (const v1::SurfaceAudit& entry : audit.surfaces()) {
    std::printf("%s: %.2f mm, %.3f of the plan, residual %.1e, slip %.3f mm\n",
                entry.surface().c_str(),
                1e3 * entry.advance_m(),
                entry.plan_ratio(),
                entry.worst_residual_ratio(),
                1e3 * entry.slip_m());
    EXPECT_EQ(entry.verdict(), v1::VERDICT_GOOD);
    EXPECT_TRUE(entry.is_lawful()) << entry.surface();
    EXPECT_NEAR(entry.plan_ratio(), 1.0, 0.1);
    worst = std::max(worst, std::abs(entry.plan_ratio() - 1.0));
  }
  EXPECT_EQ(audit.worst_advance_error_ratio(), worst);
}

TEST(PlannedSurfacesTest, OnePlanIsLawfulAndGoodOnSteelFeltAndGrit) {
  const v1::Gait gait = PlanAndAudit(RequestOnAll(0.008));
  ExpectGoodOnAll(gait);
  EXPECT_EQ(gait.surface(), "duct-steel");
  ASSERT_EQ(gait.also_on_size(), 2);
  EXPECT_EQ(gait.also_on(0).surface(), "grit-tape");
  // The same from surfaces in another order.
  PlanRequest request = RequestOnAll(0.008);
  std::swap(request.also_on[0], request.also_on[1]);
  request.order.mutable_also_on()->SwapElements(0, 1);
  const auto again = PlanGait(request, {});
  ASSERT_THAT(again, test::IsOk());
  EXPECT_EQ(again->also_on(0).surface(), "grit-tape");
  EXPECT_EQ(again->name(), gait.name());
}

// What the audit is there for: a plan that leans on the grit falls short on steel, at a stride that
// a plan for all three makes on each.
TEST(PlannedSurfacesTest, AuditFindsAPlanThatLeansOnTheGripOfOneSurface) {
  v1::Gait gait = PlanAndAudit(RequestOn("grit-tape", kLongAdvanceM));
  EXPECT_EQ(gait.audit().verdict(), v1::VERDICT_GOOD);
  const v1::Surface steel = test::ReadDemoSurface("duct-steel");
  gait.add_also_on()->set_digest(SurfaceDigest(steel));
  const auto audit = AuditGait({.robot = test::ReadDemoRobot("weevil-lumped"),
                                .surface = test::ReadDemoSurface("grit-tape"),
                                .gait = gait,
                                .also_on = {steel}});
  ASSERT_THAT(audit, test::IsOk());
  std::printf("the plan for grit makes %.3f of itself on steel\n", audit->surfaces(1).plan_ratio());
  EXPECT_EQ(audit->verdict(), v1::VERDICT_FAILED);
  EXPECT_EQ(audit->surfaces(0).verdict(), v1::VERDICT_GOOD);
  EXPECT_EQ(audit->surfaces(1).verdict(), v1::VERDICT_FAILED);
  EXPECT_FALSE(audit->surfaces(1).is_lawful());
  ExpectGoodOnAll(PlanAndAudit(RequestOnAll(kLongAdvanceM)));
}

}  // namespace
}  // namespace gaitshelf::solver
