#include "solver/leg/compile_leg.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "solver/leg/chebyshev_table.h"
#include "solver/leg/leg_model.h"
#include "solver/leg/linkage_functions.h"
#include "solver/robot/leg_linkage.h"

namespace gaitshelf::solver {
namespace {

using F = LegFunction;
using Eigen::Vector2d;

// Goes up whenever the numbers of a table mean something else, or others are kept of a leg: tables
// of an older form are compiled anew.
constexpr int kTableForm = 2;

// Tails at which a degree is enough. Flexures are known to some per cent; this is far below, so
// that 50 ms of free motion come out as those of the linkage to 1e-6 of their size.
constexpr double kEnough = 1e-7;
// Coefficients that together make so little are left out: so little that two seconds of a double
// pendulum, which makes much of any difference, stay within 1e-8 of the reference.
constexpr double kLoss = 1e-10;
// Damping has the squares of link rates, falls off slowest and is known worst.
constexpr double kDampingAllowance = 1e3;
// Keeps damping out of a measured fit.
constexpr double kLeftOut = 1e6;
// Worse fits are refused.
constexpr double kWorstFit = 1e-4;

// Works out the functions anywhere in the range, going from posture to posture.
class Sampler {
 public:
  Sampler(const LegLinkage& leg,
          const LoopClosure& closure,
          const ClosedPosture& rest,
          const Vector2d& rad_per_m)
      : leg_(leg), closure_(closure), posture_(rest), rad_per_m_(rad_per_m) {}

  // t is -1 to 1 over the range of each angle.
  absl::StatusOr<LegValues> At(const Vector2d& t) {
    const Vector2d angles = 0.5 * (leg_.lower_rad + leg_.upper_rad) +
                            0.5 * (leg_.upper_rad - leg_.lower_rad).cwiseProduct(t);
    constexpr int kStepCount = 4;
    if (!closure_.Step(angles, &posture_).ok() &&
        !closure_.Walk(angles, kStepCount, &posture_).ok()) {
      return Refuse(angles, "cannot be closed");
    }
    regularity_ = std::min(regularity_, posture_.regularity);
    if (posture_.regularity < kLeastRangeRegularity) {
      return Refuse(
          angles,
          absl::StrCat(
              "has equations of condition number ", 1.0 / posture_.regularity, ", more than 50,"));
    }
    return LinkageFunctions(leg_.linkage, posture_, rad_per_m_);
  }

  // The least that was met.
  double regularity() const { return regularity_; }

 private:
  absl::Status Refuse(const Vector2d& angles, const std::string& what) const {
    return absl::FailedPreconditionError(absl::StrCat("linkage: loop ",
                                                      closure_.WeakestLoop(posture_),
                                                      " ",
                                                      what,
                                                      " at lift ",
                                                      angles[0],
                                                      " rad, swing ",
                                                      angles[1],
                                                      " rad; shorten the range of the angles"));
  }

  const LegLinkage& leg_;
  const LoopClosure& closure_;
  ClosedPosture posture_;
  Vector2d rad_per_m_;
  double regularity_ = 1.0;
};

absl::StatusOr<std::vector<LegValues>> SampleNodes(Sampler* sampler) {
  constexpr int kCount = ChebyshevFit::kNodeCount;
  std::vector<LegValues> values(static_cast<size_t>(kCount * kCount));
  for (int i = 0; i < kCount; ++i) {
    for (int k = 0; k < kCount; ++k) {
      const int j = i % 2 == 0 ? k : kCount - 1 - k;  // to and fro, so that steps stay short
      GAITSHELF_ASSIGN_OR_RETURN(
          values[static_cast<size_t>(i * kCount + j)],
          sampler->At(Vector2d(ChebyshevFit::Node(i), ChebyshevFit::Node(j))));
    }
  }
  return values;
}

// Greatest value of each function's kind: the terms of one matrix or vector go together.
LegValues SizesOf(const std::vector<LegValues>& values) {
  constexpr std::array<int, 10> kFirst = {F::kFirstMoment,
                                          F::kInertia,
                                          F::kAngularRate,
                                          F::kMomentumRate,
                                          F::kRateRate,
                                          F::kPotential,
                                          F::kFoot,
                                          F::kTravel,
                                          F::kDamping,
                                          F::kCount};
  LegValues sizes{};
  for (size_t g = 0; g + 1 < kFirst.size(); ++g) {
    const auto first = static_cast<size_t>(kFirst[g]);
    const auto end = static_cast<size_t>(kFirst[g + 1]);
    double size = 0.0;
    for (const LegValues& v : values) {
      for (size_t f = first; f < end; ++f) {
        size = std::max(size, std::abs(v[f]));
      }
    }
    std::fill(sizes.begin() + kFirst[g], sizes.begin() + kFirst[g + 1], size);
  }
  return sizes;
}

// Greatest error over the size of its kind.
double WorstRatio(const LegValues& errors, const LegValues& sizes, double damping_allowance) {
  double worst = 0.0;
  for (size_t f = 0; f < errors.size(); ++f) {
    const double allowance = f >= static_cast<size_t>(F::kDamping) ? damping_allowance : 1.0;
    if (sizes[f] > 0.0) {
      worst = std::max(worst, std::abs(errors[f]) / (allowance * sizes[f]));
    }
  }
  return worst;
}

// The least degree from 8 on that leaves out nothing that matters.
int ChooseDegree(const ChebyshevFit& fit, const LegValues& sizes) {
  constexpr int kLeastDegree = 8;
  for (int degree = kLeastDegree; degree < ChebyshevTable::kMostDegree; degree += 2) {
    if (WorstRatio(fit.Tail(degree), sizes, kDampingAllowance) <= kEnough) {
      return degree;
    }
  }
  return ChebyshevTable::kMostDegree;
}

// What may be lost of each function beside its tail.
LegValues MayLose(const LegValues& sizes) {
  LegValues may_lose{};
  for (size_t f = 0; f < sizes.size(); ++f) {
    const double allowance = f >= static_cast<size_t>(F::kDamping) ? kDampingAllowance : 1.0;
    may_lose[f] = kLoss * allowance * sizes[f];
  }
  return may_lose;
}

// Compares with the linkage on a grid that is not that of the nodes, corners included.
absl::StatusOr<double> MeasureFit(const ChebyshevTable& table,
                                  const LegValues& sizes,
                                  Sampler* sampler) {
  constexpr int kCount = 9;
  double worst = 0.0;
  LegEvaluation fitted = {};
  for (int i = 0; i < kCount; ++i) {
    for (int k = 0; k < kCount; ++k) {
      const int j = i % 2 == 0 ? k : kCount - 1 - k;
      const Vector2d t(1.0 - 2.0 * i / (kCount - 1), 1.0 - 2.0 * j / (kCount - 1));
      GAITSHELF_ASSIGN_OR_RETURN(LegValues error, sampler->At(t));
      table.Evaluate(t, Vector2d::Ones(), DerivativeOrder::kSecond, &fitted);
      for (size_t f = 0; f < error.size(); ++f) {
        error[f] -= fitted.value[f];
      }
      worst = std::max(worst, WorstRatio(error, sizes, kLeftOut));
    }
  }
  return worst;
}

// Fills the parts of a table that do not depend on the fit.
void SetFrame(const LegLinkage& setup, const Vector2d& rad_per_m, v1::LegTable* table) {
  for (Eigen::Index i = 0; i < 2; ++i) {
    table->add_start_m(setup.lower_rad[i] / rad_per_m[i]);
    table->add_end_m(setup.upper_rad[i] / rad_per_m[i]);
    table->add_stop_stiffness_n_per_m(setup.stop_stiffness[i]);
  }
  double mass_kg = 0.0;
  for (const LinkageLink& link : setup.linkage.links) {
    mass_kg += link.mass;
  }
  table->set_mass_kg(mass_kg);
}

// Fits the functions and measures the fit.
absl::Status SetFunctions(const LegLinkage& setup,
                          const LoopClosure& closure,
                          const ClosedPosture& rest,
                          const Vector2d& rad_per_m,
                          v1::LegTable* table) {
  Sampler sampler(setup, closure, rest, rad_per_m);
  GAITSHELF_ASSIGN_OR_RETURN(const std::vector<LegValues> values, SampleNodes(&sampler));
  const LegValues sizes = SizesOf(values);
  const ChebyshevFit fit(values);
  const int degree = ChooseDegree(fit, sizes);
  const std::vector<double> coefficients = fit.Coefficients(degree, MayLose(sizes));
  LegValues units;
  units.fill(1.0);
  GAITSHELF_ASSIGN_OR_RETURN(
      const double error, MeasureFit(ChebyshevTable(coefficients, units, degree), sizes, &sampler));
  const double tail = WorstRatio(fit.Tail(degree), sizes, kDampingAllowance);
  if (!(std::max(error, tail) <= kWorstFit)) {
    return absl::FailedPreconditionError(
        absl::StrCat("linkage: polynomials of degree ",
                     degree,
                     " miss the leg's functions by ",
                     std::max(error, tail),
                     " of their size; shorten the range of the angles"));
  }
  table->mutable_function_coefficient()->Assign(coefficients.begin(), coefficients.end());
  table->mutable_report()->set_degree(degree);
  table->mutable_report()->set_fit_error_ratio(error);
  table->mutable_report()->set_regularity_ratio(sampler.regularity());
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<v1::LegTable> CompileLeg(const v1::LinkageLeg& leg) {
  GAITSHELF_ASSIGN_OR_RETURN(const LegLinkage setup, ReadLegLinkage(leg));
  const LoopClosure closure(&setup.linkage);
  ClosedPosture rest;
  GAITSHELF_RETURN_IF_ERROR(closure.Start(&rest));
  const FootRates rates = MeasureFootRates(setup, rest);
  if (rates.rad_per_m[0] == 0.0 || rates.rad_per_m[1] == 0.0) {
    return absl::InvalidArgumentError(
        "linkage: lift does not raise the foot, or swing does not move it forward");
  }
  const double reach = FindReach(closure, rest, setup.lower_rad, setup.upper_rad, kMostReach).ratio;
  if (reach < kLeastReach) {
    return absl::FailedPreconditionError(absl::StrCat("linkage: a singular posture stands at ",
                                                      reach,
                                                      " times the range; it must be at least ",
                                                      kLeastReach));
  }
  v1::LegTable table;
  table.mutable_report()->set_singularity_ratio(reach);
  SetFrame(setup, rates.rad_per_m, &table);
  GAITSHELF_RETURN_IF_ERROR(SetFunctions(setup, closure, rest, rates.rad_per_m, &table));
  return table;
}

absl::StatusOr<v1::LegTables> CompileLegs(const v1::Robot& robot) {
  v1::LegTables tables;
  tables.set_form(kTableForm);
  for (const v1::Leg& leg : robot.legs()) {
    if (!leg.has_linkage()) {
      continue;
    }
    absl::StatusOr<v1::LegTable> table = CompileLeg(leg.linkage());
    if (!table.ok()) {
      return absl::Status(table.status().code(),
                          absl::StrCat("leg ", leg.name(), ": ", table.status().message()));
    }
    table->mutable_report()->set_leg(leg.name());
    *tables.add_tables() = *std::move(table);
  }
  return tables;
}

bool TablesFit(const v1::LegTables& tables, const v1::Robot& robot) {
  if (tables.form() != kTableForm) {
    return false;
  }
  int next = 0;
  for (const v1::Leg& leg : robot.legs()) {
    if (!leg.has_linkage()) {
      continue;
    }
    if (next >= tables.tables_size()) {
      return false;
    }
    const v1::LegTable& table = tables.tables(next++);
    const int degree = table.report().degree();
    const bool is_sized =
        degree >= 0 && degree <= ChebyshevTable::kMostDegree && table.start_m_size() == 2 &&
        table.end_m_size() == 2 && table.stop_stiffness_n_per_m_size() == 2 &&
        table.function_coefficient_size() == F::kCount * (degree + 1) * (degree + 1);
    if (table.report().leg() != leg.name() || !is_sized) {
      return false;
    }
  }
  return next == tables.tables_size();
}

}  // namespace gaitshelf::solver
