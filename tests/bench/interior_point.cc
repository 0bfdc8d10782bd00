#include "tests/bench/interior_point.h"

#include <algorithm>
#include <memory>

// IPOPT's headers ask for it.
#ifndef HAVE_CSTDDEF
#define HAVE_CSTDDEF
#endif
#include <coin/IpIpoptApplication.hpp>
#include <coin/IpTNLP.hpp>

#include "tests/bench/plan_hessian.h"
#include "tests/bench/processor_time.h"

namespace gaitshelf::bench {
namespace {

using Eigen::VectorXd;
using Ipopt::Index;
using Ipopt::Number;

// What IPOPT takes as no bound.
constexpr double kNoBound = 2e19;

// Adds the processor time of a scope to a sum.
class ScopeTime {
 public:
  explicit ScopeTime(double* sum_s) : sum_s_(sum_s) {}
  ~ScopeTime() { *sum_s_ += watch_.processor_s(); }
  ScopeTime(const ScopeTime&) = delete;
  ScopeTime& operator=(const ScopeTime&) = delete;

 private:
  double* sum_s_;
  Stopwatch watch_;
};

class PlanNlp final : public Ipopt::TNLP {
 public:
  PlanNlp(const IpoptLimits& limits,
          bool ends_when_good,
          PlanProgram* program,
          PlanHessian* hessian)
      : limits_(limits),
        ends_when_good_(ends_when_good),
        program_(program),
        hessian_(hessian),
        start_(program->Read()) {}

  // Marks the last solve, whose progress counts.
  void set_is_last(bool is_last) { is_last_ = is_last; }
  void AddTo(IpoptRun* run) const {
    run->hessian_s = hessian_s_;
    run->evaluation_s = evaluation_s_;
    run->iterations = iterations_;
    run->feasible_s = feasible_s_;
    run->as_good_s = as_good_s_;
  }

  bool get_nlp_info(Index& n,
                    Index& m,
                    Index& nnz_jac_g,
                    Index& nnz_h_lag,
                    IndexStyleEnum& index_style) override {
    n = program_->unknown_count();
    m = program_->laws().row_count();
    nnz_jac_g = static_cast<Index>(program_->laws().places().size());
    nnz_h_lag = hessian_ == nullptr ? 0 : static_cast<Index>(hessian_->places().size());
    index_style = C_STYLE;
    return true;
  }

  bool get_bounds_info(Index n, Number* x_l, Number* x_u, Index m, Number* g_l, Number* g_u)
      override {
    for (Index i = 0; i < n; ++i) {
      x_l[i] = std::max(program_->lower()[i], -kNoBound);
      x_u[i] = std::min(program_->upper()[i], kNoBound);
    }
    std::fill_n(g_l, m, 0.0);
    std::fill_n(g_u, m, 0.0);
    return true;
  }

  bool get_starting_point(Index n,
                          bool init_x,
                          Number* x,
                          bool init_z,
                          Number* z_l,
                          Number* z_u,
                          Index m,
                          bool init_lambda,
                          Number* lambda) override {
    if (init_x) {
      std::copy_n(start_.data(), n, x);
    }
    if (init_z) {
      std::copy_n(lower_multipliers_.data(), n, z_l);
      std::copy_n(upper_multipliers_.data(), n, z_u);
    }
    if (init_lambda) {
      std::copy_n(multipliers_.data(), m, lambda);
    }
    return true;
  }

  bool eval_f(Index n, const Number* x, bool new_x, Number& obj_value) override {
    const ScopeTime time(&evaluation_s_);
    Take(n, x, new_x);
    const bool is_good = program_->Evaluate();
    obj_value = program_->Cost();
    return is_good;
  }

  bool eval_grad_f(Index n, const Number* x, bool new_x, Number* grad_f) override {
    const ScopeTime time(&evaluation_s_);
    Take(n, x, new_x);
    const bool is_good = program_->Linearise();
    Eigen::Map<VectorXd>(grad_f, n) = program_->Gradient(1.0, nullptr);
    return is_good;
  }

  bool eval_g(Index n, const Number* x, bool new_x, Index m, Number* g) override {
    const ScopeTime time(&evaluation_s_);
    Take(n, x, new_x);
    const bool is_good = program_->Evaluate();
    std::copy_n(program_->laws().residuals().data(), m, g);
    return is_good;
  }

  bool eval_jac_g(Index n,
                  const Number* x,
                  bool new_x,
                  Index /*m*/,
                  Index nele_jac,
                  Index* i_row,
                  Index* j_col,
                  Number* values) override {
    if (values == nullptr) {
      CopyPlaces(program_->laws().places(), i_row, j_col);
      return true;
    }
    const ScopeTime time(&evaluation_s_);
    Take(n, x, new_x);
    const bool is_good = program_->Linearise();
    std::copy_n(program_->law_entries().data(), nele_jac, values);
    return is_good;
  }

  bool eval_h(Index n,
              const Number* x,
              bool new_x,
              Number obj_factor,
              Index /*m*/,
              const Number* lambda,
              bool /*new_lambda*/,
              Index /*nele_hess*/,
              Index* i_row,
              Index* j_col,
              Number* values) override {
    if (values == nullptr) {
      CopyPlaces(hessian_->places(), i_row, j_col);
      return true;
    }
    const ScopeTime time(&hessian_s_);
    Take(n, x, new_x);
    const bool is_good = program_->Linearise();
    hessian_->Fill(program_, obj_factor, lambda, values);
    return is_good;
  }

  bool intermediate_callback(Ipopt::AlgorithmMode mode,
                             Index /*iter*/,
                             Number obj_value,
                             Number inf_pr,
                             Number /*inf_du*/,
                             Number /*mu*/,
                             Number /*d_norm*/,
                             Number /*regularization_size*/,
                             Number /*alpha_du*/,
                             Number /*alpha_pr*/,
                             Index /*ls_trials*/,
                             const Ipopt::IpoptData* /*ip_data*/,
                             Ipopt::IpoptCalculatedQuantities* /*ip_cq*/) override {
    ++iterations_;
    const double spent_s = watch_.processor_s() - hessian_s_;
    const double tolerance = program_->stage().schedule.tolerance;
    if (is_last_ && mode == Ipopt::RegularMode && inf_pr < tolerance) {
      feasible_s_ = feasible_s_ < 0.0 ? spent_s : feasible_s_;
      if (as_good_s_ < 0.0 && obj_value <= limits_.asked_cost) {
        as_good_s_ = spent_s;
      }
    }
    constexpr double kWithDerivatives = 3.0;
    return spent_s < limits_.processor_s &&
           watch_.processor_s() < kWithDerivatives * limits_.processor_s &&
           !(ends_when_good_ && as_good_s_ >= 0.0);
  }

  void finalize_solution(Ipopt::SolverReturn /*status*/,
                         Index n,
                         const Number* x,
                         const Number* z_l,
                         const Number* z_u,
                         Index m,
                         const Number* /*g*/,
                         const Number* lambda,
                         Number /*obj_value*/,
                         const Ipopt::IpoptData* /*ip_data*/,
                         Ipopt::IpoptCalculatedQuantities* /*ip_cq*/) override {
    start_ = Eigen::Map<const VectorXd>(x, n);
    lower_multipliers_ = Eigen::Map<const VectorXd>(z_l, n);
    upper_multipliers_ = Eigen::Map<const VectorXd>(z_u, n);
    multipliers_ = Eigen::Map<const VectorXd>(lambda, m);
    program_->Write(start_);
  }

 private:
  void Take(Index n, const Number* x, bool new_x) {
    if (new_x) {
      program_->Write(Eigen::Map<const VectorXd>(x, n));
    }
  }
  static void CopyPlaces(const std::vector<Place>& places, Index* rows, Index* columns) {
    for (size_t i = 0; i < places.size(); ++i) {
      rows[i] = places[i].row;
      columns[i] = places[i].column;
    }
  }

  const IpoptLimits& limits_;
  bool ends_when_good_;
  PlanProgram* program_;
  PlanHessian* hessian_;
  Stopwatch watch_;
  // Where the next solve starts.
  VectorXd start_;
  VectorXd lower_multipliers_;
  VectorXd upper_multipliers_;
  VectorXd multipliers_;
  bool is_last_ = false;
  int iterations_ = 0;
  double hessian_s_ = 0.0;
  double evaluation_s_ = 0.0;
  double feasible_s_ = -1.0;
  double as_good_s_ = -1.0;
};

std::unique_ptr<PlanHessian> MakeHessian(const IpoptSetup& setup, const PlanProgram& program) {
  switch (setup.hessian) {
    case HessianKind::kGaussNewton:
      return std::make_unique<GaussNewtonHessian>(program, setup.proximal);
    case HessianKind::kDifferences:
      return std::make_unique<DifferenceHessian>(program);
    default:
      return nullptr;
  }
}

void SetOptions(const IpoptSetup& setup,
                const IpoptLimits& limits,
                bool is_first,
                bool is_last,
                Ipopt::OptionsList* options) {
  options->SetIntegerValue("print_level", 0);
  options->SetStringValue("sb", "yes");
  options->SetStringValue("linear_solver", "mumps");
  options->SetIntegerValue("max_iter", limits.iterations);
  options->SetStringValue(
      "hessian_approximation",
      setup.hessian == HessianKind::kLimitedMemory ? "limited-memory" : "exact");
  if (setup.is_tuned) {
    // Between the first and the last smoothing a hundredth of it does.
    constexpr double kBetween = 1e-4;
    const double tolerance = is_last ? setup.last_tolerance : kBetween;
    options->SetStringValue("mu_strategy", "adaptive");
    options->SetNumericValue("tol", tolerance);
    options->SetNumericValue("constr_viol_tol", tolerance);
  }
  if (!is_first) {
    options->SetStringValue("warm_start_init_point", "yes");
    options->SetNumericValue("mu_init", 1e-4);
  }
}

// The planner's steps of smoothing, or the last alone.
std::vector<double> Smoothings(const IpoptSetup& setup, const solver::RoundSchedule& schedule) {
  std::vector<double> smoothings;
  if (setup.is_scheduled) {
    for (double smoothing = schedule.first_smoothing; smoothing > schedule.last_smoothing;
         smoothing *= schedule.smoothing_factor) {
      smoothings.push_back(smoothing);
    }
  }
  smoothings.push_back(schedule.last_smoothing);
  return smoothings;
}

}  // namespace

IpoptRun SolveByIpopt(const IpoptSetup& setup, const IpoptLimits& limits, PlanProgram* program) {
  const std::unique_ptr<PlanHessian> hessian = MakeHessian(setup, *program);
  const Stopwatch watch;
  auto* plan = new PlanNlp(limits, setup.is_tuned, program, hessian.get());
  const Ipopt::SmartPtr<Ipopt::TNLP> nlp = plan;
  const std::vector<double> smoothings = Smoothings(setup, program->stage().schedule);
  IpoptRun run;
  for (size_t i = 0; i < smoothings.size(); ++i) {
    const bool is_last = i + 1 == smoothings.size();
    program->set_smoothing(smoothings[i]);
    plan->set_is_last(is_last);
    const Ipopt::SmartPtr<Ipopt::IpoptApplication> application = new Ipopt::IpoptApplication(false);
    SetOptions(setup, limits, i == 0, is_last, Ipopt::GetRawPtr(application->Options()));
    application->Initialize();
    run.status = application->OptimizeTNLP(nlp);
  }
  plan->AddTo(&run);
  run.processor_s = watch.processor_s();
  run.wall_s = watch.wall_s();
  run.score = program->Score();
  return run;
}

}  // namespace gaitshelf::bench
