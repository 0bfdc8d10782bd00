#include "solver/measure/check_trial.h"

#include <cmath>
#include <map>
#include <numbers>
#include <set>
#include <tuple>
#include <utility>

#include <google/protobuf/timestamp.pb.h>
#include <google/protobuf/util/time_util.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

bool Has(const v1::Trial& trial, v1::TrialQuantity quantity) {
  for (const v1::TrialGroup& group : trial.groups()) {
    for (const v1::TrialColumn& column : group.columns()) {
      if (column.quantity() == quantity) {
        return true;
      }
    }
  }
  return false;
}

bool IsBenchTestOfLeg(v1::TrialKind kind) {
  return kind == v1::TRIAL_KIND_RING_DOWN || kind == v1::TRIAL_KIND_STEP ||
         kind == v1::TRIAL_KIND_CHIRP;
}

bool IsSurfaceTest(v1::TrialKind kind) {
  return kind == v1::TRIAL_KIND_TILT || kind == v1::TRIAL_KIND_SLED;
}

void Require(const std::string& value,
             const char* field,
             const std::string& why,
             Violations* violations) {
  if (value.empty()) {
    AddFault({field, kMissing, absl::StrCat("is required ", why), absl::StrCat("name the ", field)},
             violations);
  }
}

void RequireColumn(const v1::Trial& trial,
                   v1::TrialQuantity quantity,
                   const std::string& example,
                   Violations* violations) {
  if (!Has(trial, quantity)) {
    AddFault(
        {"groups",
         kMissing,
         absl::StrCat("hold no column such as \"", example, "\", which this kind of trial needs"),
         absl::StrCat("add a column \"", example, "\"")},
        violations);
  }
}

void CheckKind(const v1::Trial& trial, Violations* violations) {
  const v1::TrialKind kind = trial.kind();
  if (kind == v1::TRIAL_KIND_UNSPECIFIED) {
    AddFault({"kind", kMissing, "is required", "say what kind of run it was"}, violations);
  } else if (kind == v1::TRIAL_KIND_GAIT) {
    Require(trial.gait(), "gait", "for a trial of a gait", violations);
    if (!Has(trial, v1::TRIAL_QUANTITY_BODY_POSITION) &&
        !Has(trial, v1::TRIAL_QUANTITY_LEG_POSITION) && !Has(trial, v1::TRIAL_QUANTITY_CONTACT)) {
      RequireColumn(trial, v1::TRIAL_QUANTITY_BODY_POSITION, "body x [mm]", violations);
    }
  } else if (!trial.gait().empty()) {
    AddFault({"gait",
              QuotedText(trial.gait()),
              "belongs to a trial of a gait only",
              "leave it out, or make the kind TRIAL_KIND_GAIT"},
             violations);
  }
  if (IsBenchTestOfLeg(kind)) {
    Require(trial.robot(), "robot", "for a bench test of a leg", violations);
    RequireColumn(trial, v1::TRIAL_QUANTITY_LEG_POSITION, "front-left lift [um]", violations);
    if (kind != v1::TRIAL_KIND_RING_DOWN) {
      RequireColumn(trial, v1::TRIAL_QUANTITY_VOLTAGE, "front-left lift voltage [V]", violations);
    }
  }
  if (IsSurfaceTest(kind)) {
    Require(trial.surface(), "surface", "for a test of friction", violations);
    if (kind == v1::TRIAL_KIND_TILT) {
      RequireColumn(trial, v1::TRIAL_QUANTITY_TILT, "tilt [deg]", violations);
    } else {
      RequireColumn(trial, v1::TRIAL_QUANTITY_PULL_FORCE, "pull force [mN]", violations);
      RequireColumn(trial, v1::TRIAL_QUANTITY_NORMAL_FORCE, "normal force [mN]", violations);
    }
  }
}

// Beyond what the type can hold, nothing can write it as a date.
void CheckMeasureTime(const v1::Trial& trial, Violations* violations) {
  using google::protobuf::util::TimeUtil;
  const google::protobuf::Timestamp& time = trial.measure_time();
  if (time.seconds() < TimeUtil::kTimestampMinSeconds ||
      time.seconds() > TimeUtil::kTimestampMaxSeconds || time.nanos() < 0 ||
      time.nanos() > 999'999'999) {
    AddFault({"measure_time",
              absl::StrCat(time.seconds(), " s and ", time.nanos(), " ns"),
              "must be in the years 1 to 9999, with 0 to 999999999 ns",
              "give seconds since 1970 in UTC, or leave it out"},
             violations);
  }
}

// Times come from a column or from a rate, and never from both. A tilt test may do without.
void CheckTime(const v1::TrialGroup& group,
               const std::string& path,
               v1::TrialKind kind,
               Violations* violations) {
  bool has_time = false;
  for (const v1::TrialColumn& column : group.columns()) {
    has_time = has_time || column.quantity() == v1::TRIAL_QUANTITY_TIME;
  }
  const bool has_rate = group.sample_rate_hz() > 0.0;
  const std::string field = absl::StrCat(path, ".sample_rate_hz");
  if (has_rate && group.sample_rate_hz() < 0.1) {
    AddFault({field,
              NumberText(group.sample_rate_hz()),
              "must be 0.1 to 100000 Hz, or 0 with a time column",
              "give samples per second"},
             violations);
  }
  if (has_time && has_rate) {
    AddFault({field,
              NumberText(group.sample_rate_hz()),
              "must be 0 when a column holds the time",
              "leave the rate out, or the time column"},
             violations);
  } else if (!has_time && !has_rate && !IsSurfaceTest(kind)) {
    AddFault({field,
              kMissing,
              "is required, because no column holds the time",
              "add a column \"time [s]\" or give the rate"},
             violations);
  }
}

void ResolveColumns(const TrialParts& parts,
                    const std::string& path,
                    v1::TrialGroup* group,
                    Violations* violations) {
  std::map<std::tuple<int, std::string, int>, int> first;
  for (int i = 0; i < group->columns_size(); ++i) {
    const std::string label = group->columns(i).label();
    const std::string field = absl::StrCat(path, ".columns[", i, "].label");
    absl::StatusOr<v1::TrialColumn> column = ReadColumnLabel(label, parts);
    if (!column.ok()) {
      const std::pair<std::string, std::string> text =
          absl::StrSplit(std::string(column.status().message()), absl::MaxSplits("; ", 1));
      AddFault({field, QuotedText(label), text.first, text.second}, violations);
      continue;
    }
    const auto [entry, is_new] =
        first.emplace(std::tuple(column->quantity(), column->part(), column->axis()), i);
    if (!is_new) {
      AddFault({field,
                QuotedText(label),
                absl::StrCat("is measured by columns[", entry->second, "] already"),
                "leave one of them out, or put it into a group of its own"},
               violations);
    }
    *group->mutable_columns(i) = *std::move(column);
  }
}

// Widest values that make sense, in SI. Beyond them a unit is wrong: a robot of a few grams does
// not move by 100 m.
std::pair<double, double> PlausibleRange(v1::TrialQuantity quantity) {
  switch (quantity) {
    case v1::TRIAL_QUANTITY_CONTACT:
      return {0.0, 1.0};
    case v1::TRIAL_QUANTITY_PHASE:
      return {-1.0, 1.0};
    case v1::TRIAL_QUANTITY_TILT:
      return {0.0, std::numbers::pi / 2.0};
    case v1::TRIAL_QUANTITY_TIME:
      return {-1e10, 1e10};
    case v1::TRIAL_QUANTITY_BODY_POSITION:
    case v1::TRIAL_QUANTITY_FOOT_POSITION:
      return {-100.0, 100.0};
    case v1::TRIAL_QUANTITY_LEG_POSITION:
      return {-0.5, 0.5};
    case v1::TRIAL_QUANTITY_SLIDE_DISTANCE:
      return {0.0, 100.0};
    case v1::TRIAL_QUANTITY_SLIDE_TIME:
      return {0.0, 1e4};
    case v1::TRIAL_QUANTITY_ADDED_MASS:
      return {0.0, 10.0};
    default:
      return {-1000.0, 1000.0};  // rad, V, A, W, N
  }
}

std::string RowField(const v1::TrialGroup& group, std::int64_t row) {
  return absl::StrCat("group '", group.name(), "' row ", row);
}

}  // namespace

Violations ResolveTrial(const TrialParts& parts, v1::Trial* trial) {
  Violations violations;
  AddRuleFaults(*trial, "", &violations);
  CheckMeasureTime(*trial, &violations);
  std::set<std::string> names;
  for (int i = 0; i < trial->groups_size(); ++i) {
    v1::TrialGroup* group = trial->mutable_groups(i);
    const std::string path = absl::StrCat("groups[", i, "]");
    ResolveColumns(parts, path, group, &violations);
    CheckTime(*group, path, trial->kind(), &violations);
    if (group->clock() == v1::TRIAL_CLOCK_UNSPECIFIED) {
      AddFault({absl::StrCat(path, ".clock"),
                kMissing,
                "is required",
                "say on whose clock the samples were taken"},
               &violations);
    }
    if (group->columns().empty()) {
      AddFault({absl::StrCat(path, ".columns"),
                kMissing,
                "needs at least one column",
                "add its columns"},
               &violations);
    }
    if (!group->name().empty() && !names.insert(group->name()).second) {
      AddFault({absl::StrCat(path, ".name"),
                QuotedText(group->name()),
                "is the name of another group, too",
                "give each group a name of its own"},
               &violations);
    }
  }
  if (trial->groups().empty()) {
    AddFault({"groups", kMissing, "needs at least one log", "add the logs"}, &violations);
  } else if (violations.empty()) {
    CheckKind(*trial, &violations);
  }
  return violations;
}

SampleCheck::SampleCheck(const v1::Trial* trial) : trial_(*trial) {
  for (const v1::TrialGroup& group : trial_.groups()) {
    GroupState& state = groups_.emplace_back();
    for (const v1::TrialColumn& column : group.columns()) {
      state.columns.push_back(RuleOf(column));
    }
  }
}

SampleCheck::ColumnRule SampleCheck::RuleOf(const v1::TrialColumn& column) {
  const auto [lower, upper] = PlausibleRange(column.quantity());
  return {.lower = lower / column.si_ratio(),
          .upper = upper / column.si_ratio(),
          .is_time = column.quantity() == v1::TRIAL_QUANTITY_TIME};
}

void SampleCheck::AddSampleFault(const Fault& fault) {
  if (fault_count_++ < TrialLimits::kMostSampleFaults) {
    AddFault(fault, &violations_);
  }
}

void SampleCheck::CheckRow(const v1::TrialGroup& group, const double* row, GroupState* state) {
  ++state->row_count;
  for (std::size_t i = 0; i < state->columns.size(); ++i) {
    const ColumnRule& rule = state->columns[i];
    const double value = row[i];
    const bool is_missing = std::isnan(value);
    if (!rule.is_time && (is_missing || (value >= rule.lower && value <= rule.upper))) {
      continue;
    }
    const auto add = [&](const std::string& problem, const std::string& mend) {
      const std::string& label = group.columns(static_cast<int>(i)).label();
      AddSampleFault({absl::StrCat(RowField(group, state->row_count), " column '", label, "'"),
                      is_missing ? std::string(kMissing) : NumberText(value),
                      problem,
                      mend});
    };
    if (!rule.is_time || is_missing || !(value >= rule.lower && value <= rule.upper)) {
      if (is_missing) {
        add("is the time of the row and may not be missing", "take the row out");
      } else {
        add(absl::StrCat("must be ",
                         NumberText(rule.lower),
                         " to ",
                         NumberText(rule.upper),
                         " in this unit"),
            "check the unit of the label, or leave the sample empty");
      }
    } else if (value <= state->last_time) {
      add(absl::StrCat("must be later than the row before, which is at ",
                       NumberText(state->last_time)),
          "put the rows in order and take doubled ones out");
    } else {
      state->last_time = value;
    }
  }
}

void SampleCheck::Add(const v1::TrialBlock& block) {
  if (block.group_index() < 0 || block.group_index() >= trial_.groups_size()) {
    AddSampleFault({"block.group_index",
                    absl::StrCat(block.group_index()),
                    absl::StrCat("must be 0 to ", trial_.groups_size() - 1),
                    "send blocks for groups of the description only"});
    return;
  }
  const v1::TrialGroup& group = trial_.groups(block.group_index());
  GroupState& state = groups_[static_cast<std::size_t>(block.group_index())];
  const int width = group.columns_size();
  const int count = block.values_as_labelled_size();
  value_count_ += count;
  if (count == 0 || count > TrialLimits::kMostBlockValues || count % width != 0) {
    AddSampleFault({absl::StrCat(RowField(group, state.row_count + 1), " onwards"),
                    absl::StrCat(count, " values"),
                    absl::StrCat("must be whole rows of ",
                                 width,
                                 " columns, at least one, at most ",
                                 TrialLimits::kMostBlockValues,
                                 " values in a block"),
                    "give every row one value for each column, NaN where one is missing"});
    return;
  }
  if (block.first_row() != state.row_count) {
    AddSampleFault({absl::StrCat(RowField(group, state.row_count + 1), " onwards"),
                    absl::StrCat("first_row ", block.first_row()),
                    absl::StrCat("must be ", state.row_count, ", the rows that came before"),
                    "send the blocks of a group in order and none of them twice"});
    return;
  }
  const double* values = block.values_as_labelled().data();
  for (int at = 0; at < count; at += width) {
    CheckRow(group, values + at, &state);
  }
}

void SampleCheck::Finish() {
  if (!ok()) {
    return;  // rows that were refused are not missing
  }
  for (int i = 0; i < trial_.groups_size(); ++i) {
    const std::int64_t least = IsSurfaceTest(trial_.kind()) ? 1 : 2;
    if (row_count(i) < least) {
      AddSampleFault({absl::StrCat("group '", trial_.groups(i).name(), "'"),
                      absl::StrCat(row_count(i), " rows"),
                      absl::StrCat("needs at least ", least),
                      "send its samples, or leave the group out"});
    }
    const std::int64_t stated = trial_.groups(i).row_count();
    if (stated != 0 && row_count(i) != stated) {
      AddSampleFault({absl::StrCat(RowField(trial_.groups(i), row_count(i) + 1), " onwards"),
                      absl::StrCat(row_count(i), " rows came"),
                      absl::StrCat("must be ", stated, ", as the description states"),
                      "send every row once; upload again when the connection broke off"});
    }
  }
}

Violations SampleCheck::violations() const {
  Violations all = violations_;
  if (fault_count_ > TrialLimits::kMostSampleFaults) {
    AddFault({"samples",
              absl::StrCat(fault_count_, " faults"),
              absl::StrCat("only the first ", TrialLimits::kMostSampleFaults, " are told"),
              "mend these and try again"},
             &all);
  }
  return all;
}

}  // namespace gaitshelf::solver
