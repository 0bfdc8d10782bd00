#include "solver/calibrate/leg_numbers.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>

#include "absl/strings/match.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/linear_leg.h"
#include "solver/robot/bimorph.h"
#include "solver/robot/draw.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

// Message types do not refer to themselves, so the recursion is as deep as they are.
// NOLINTNEXTLINE(misc-no-recursion)
void ScaleMasses(double factor, Message* part) {
  const google::protobuf::Reflection& reflection = *part->GetReflection();
  std::vector<const FieldDescriptor*> fields;
  reflection.ListFields(*part, &fields);
  for (const FieldDescriptor* field : fields) {
    if (field->cpp_type() == FieldDescriptor::CPPTYPE_DOUBLE) {
      if (absl::EndsWith(field->name(), "_kg") || absl::EndsWith(field->name(), "_kg_m2")) {
        ScaleNumbers(*field, factor, part);
      }
    } else if (field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE && field->is_repeated()) {
      for (int k = 0; k < reflection.FieldSize(*part, field); ++k) {
        ScaleMasses(factor, reflection.MutableRepeatedMessage(part, field, k));
      }
    } else if (field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
      ScaleMasses(factor, reflection.MutableMessage(part, field));
    }
  }
}

// Damping of a flexure is given per stiffness.
void ScaleBending(double stiffness, double damping, v1::FlexureBending* bending) {
  if (bending->has_film()) {
    bending->mutable_film()->set_modulus_pa(stiffness * bending->film().modulus_pa());
  } else {
    bending->set_stiffness_n_m_per_rad(stiffness * bending->stiffness_n_m_per_rad());
  }
  bending->set_damping_s(damping / stiffness * bending->damping_s());
}

// Tells which coordinate a flexure stiffens more, by making it stiffer.
absl::StatusOr<std::size_t> AxisOf(const v1::Leg& leg,
                                   const Eigen::Matrix2d& stiffness,
                                   v1::Leg* changed,
                                   v1::FlexureBending* bending) {
  ScaleBending(2.0, 1.0, bending);
  GAITSHELF_ASSIGN_OR_RETURN(const Eigen::Matrix2d stiffer, RestStiffness(*changed));
  *changed = leg;
  const Eigen::Matrix2d added = stiffer - stiffness;
  // Relative to what is there: a swing that is softer altogether takes the smaller share.
  return added(1, 1) / stiffness(1, 1) > added(0, 0) / stiffness(0, 0) ? std::size_t{1}
                                                                       : std::size_t{0};
}

}  // namespace

v1::Bimorph* MutableBimorph(v1::Leg* leg, std::size_t axis) {
  if (leg->has_lumped()) {
    v1::LegCoordinate* coordinate =
        axis == 0 ? leg->mutable_lumped()->mutable_lift() : leg->mutable_lumped()->mutable_swing();
    return coordinate->has_bimorph() ? coordinate->mutable_bimorph() : nullptr;
  }
  v1::LinkageCoordinate* coordinate =
      axis == 0 ? leg->mutable_linkage()->mutable_lift() : leg->mutable_linkage()->mutable_swing();
  return coordinate->has_drive() ? coordinate->mutable_drive()->mutable_bimorph() : nullptr;
}

absl::StatusOr<LegNumbers> LegNumbers::Create(const v1::Leg& leg) {
  LegNumbers numbers;
  if (!leg.has_linkage()) {
    return numbers;
  }
  GAITSHELF_ASSIGN_OR_RETURN(const Eigen::Matrix2d stiffness, RestStiffness(leg));
  v1::Leg changed = leg;
  for (int i = 0; i < leg.linkage().flexures_size(); ++i) {
    GAITSHELF_ASSIGN_OR_RETURN(
        const std::size_t axis,
        AxisOf(leg,
               stiffness,
               &changed,
               changed.mutable_linkage()->mutable_flexures(i)->mutable_bending()));
    numbers.flexure_axis_.push_back(axis);
  }
  for (int i = 0; i < leg.linkage().closing_flexures_size(); ++i) {
    GAITSHELF_ASSIGN_OR_RETURN(
        const std::size_t axis,
        AxisOf(leg,
               stiffness,
               &changed,
               changed.mutable_linkage()->mutable_closing_flexures(i)->mutable_bending()));
    numbers.closing_axis_.push_back(axis);
  }
  return numbers;
}

v1::Leg LegNumbers::Scaled(const v1::Leg& leg, const LegFactors& factors) const {
  v1::Leg scaled = leg;
  for (std::size_t axis = 0; axis < 2; ++axis) {
    if (v1::Bimorph* bimorph = MutableBimorph(&scaled, axis); bimorph != nullptr) {
      if (factors.stiffness[axis] != 1.0 || factors.gain[axis] != 1.0) {
        *bimorph = WithoutLayers(*bimorph);
      }
      bimorph->set_stiffness_n_per_m(factors.stiffness[axis] * bimorph->stiffness_n_per_m());
      bimorph->set_gain_n_per_v(factors.gain[axis] * bimorph->gain_n_per_v());
    }
  }
  if (scaled.has_lumped()) {
    v1::LumpedLeg* lumped = scaled.mutable_lumped();
    for (std::size_t axis = 0; axis < 2; ++axis) {
      v1::LegCoordinate* coordinate = axis == 0 ? lumped->mutable_lift() : lumped->mutable_swing();
      coordinate->set_stiffness_n_per_m(factors.stiffness[axis] * coordinate->stiffness_n_per_m());
      coordinate->set_damping_n_s_per_m(factors.damping[axis] * coordinate->damping_n_s_per_m());
    }
  } else {
    v1::LinkageLeg* linkage = scaled.mutable_linkage();
    for (std::size_t i = 0; i < flexure_axis_.size(); ++i) {
      const std::size_t axis = flexure_axis_[i];
      ScaleBending(factors.stiffness[axis],
                   factors.damping[axis],
                   linkage->mutable_flexures(static_cast<int>(i))->mutable_bending());
    }
    for (std::size_t i = 0; i < closing_axis_.size(); ++i) {
      const std::size_t axis = closing_axis_[i];
      ScaleBending(factors.stiffness[axis],
                   factors.damping[axis],
                   linkage->mutable_closing_flexures(static_cast<int>(i))->mutable_bending());
    }
  }
  if (factors.mass != 1.0) {
    ScaleMasses(factors.mass, &scaled);
  }
  return scaled;
}

}  // namespace gaitshelf::solver
