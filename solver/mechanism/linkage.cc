#include "solver/mechanism/linkage.h"

#include <utility>

#include <Eigen/Geometry>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::Vector3d;

const LinkageLink& LinkAt(const Linkage& linkage, int link) {
  return linkage.links[static_cast<size_t>(link)];
}

// Marks the links that carry a link, itself included.
std::vector<bool> Carriers(const Linkage& linkage, int link) {
  std::vector<bool> carries(linkage.links.size(), false);
  for (int i = link; i != kBodyLink; i = LinkAt(linkage, i).parent) {
    carries[static_cast<size_t>(i)] = true;
  }
  return carries;
}

// The link nearest to the tips that carries both ends of the loop.
int Anchor(const Linkage& linkage, const LoopHinge& loop) {
  const std::vector<bool> carries_b = Carriers(linkage, loop.b);
  int link = loop.a;
  while (link != kBodyLink && !carries_b[static_cast<size_t>(link)]) {
    link = LinkAt(linkage, link).parent;
  }
  return link;
}

}  // namespace

Matrix3d LinkagePose::RotationOf(int link) const {
  return link == kBodyLink ? Matrix3d::Identity() : rotation[static_cast<size_t>(link)];
}

Vector3d LinkagePose::Place(int link, const Vector3d& rest_point) const {
  if (link == kBodyLink) {
    return rest_point;
  }
  return rotation[static_cast<size_t>(link)] * rest_point + shift[static_cast<size_t>(link)];
}

void EvaluatePose(const Linkage& linkage,
                  const Eigen::Ref<const Eigen::VectorXd>& angles,
                  LinkagePose* pose) {
  const size_t count = linkage.links.size();
  pose->rotation.resize(count);
  pose->shift.resize(count);
  pose->axis.resize(count);
  pose->point.resize(count);
  for (size_t i = 0; i < count; ++i) {
    const LinkageLink& link = linkage.links[i];
    const Matrix3d parent = pose->RotationOf(link.parent);
    pose->axis[i] = parent * link.axis;
    pose->point[i] = pose->Place(link.parent, link.point);
    pose->rotation[i] =
        parent * Eigen::AngleAxisd(angles[static_cast<Index>(i)], link.axis).toRotationMatrix();
    pose->shift[i] = pose->point[i] - pose->rotation[i] * link.point;
  }
}

void TurnJacobian(const Linkage& linkage,
                  const LinkagePose& pose,
                  int link,
                  Eigen::Matrix3Xd* jacobian) {
  jacobian->setZero(3, linkage.angle_count());
  for (int i = link; i != kBodyLink; i = LinkAt(linkage, i).parent) {
    jacobian->col(i) = pose.axis[static_cast<size_t>(i)];
  }
}

void PointJacobian(const Linkage& linkage,
                   const LinkagePose& pose,
                   int link,
                   const Vector3d& rest_point,
                   Eigen::Matrix3Xd* jacobian) {
  jacobian->setZero(3, linkage.angle_count());
  const Vector3d place = pose.Place(link, rest_point);
  for (int i = link; i != kBodyLink; i = LinkAt(linkage, i).parent) {
    const auto k = static_cast<size_t>(i);
    jacobian->col(i) = pose.axis[k].cross(place - pose.point[k]);
  }
}

void EvaluateLoops(const Linkage& linkage,
                   const LinkagePose& pose,
                   Eigen::VectorXd* residual,
                   Eigen::MatrixXd* jacobian) {
  residual->resize(linkage.loop_equation_count());
  jacobian->resize(linkage.loop_equation_count(), linkage.angle_count());
  Eigen::Matrix3Xd of_a;
  Eigen::Matrix3Xd of_b;
  for (size_t i = 0; i < linkage.loops.size(); ++i) {
    const LoopHinge& loop = linkage.loops[i];
    const int anchor = Anchor(linkage, loop);
    Eigen::Matrix<double, 3, 2> plane;
    plane.col(0) = loop.axis.unitOrthogonal();
    plane.col(1) = loop.axis.cross(plane.col(0));
    plane = pose.RotationOf(anchor) * plane;
    PointJacobian(linkage, pose, loop.a, loop.point, &of_a);
    PointJacobian(linkage, pose, loop.b, loop.point, &of_b);
    // What carries the anchor carries the plane and both points alike.
    for (int j = anchor; j != kBodyLink; j = LinkAt(linkage, j).parent) {
      of_a.col(j).setZero();
      of_b.col(j).setZero();
    }
    const auto row = static_cast<Index>(2 * i);
    residual->segment<2>(row) =
        plane.transpose() * (pose.Place(loop.a, loop.point) - pose.Place(loop.b, loop.point));
    jacobian->middleRows<2>(row) = plane.transpose() * (of_a - of_b);
  }
}

Eigen::VectorXd HingeSigns(const Linkage& linkage, const LoopHinge& loop) {
  Eigen::VectorXd signs = Eigen::VectorXd::Zero(linkage.angle_count());
  const int anchor = Anchor(linkage, loop);
  for (const auto& [end, sign] : {std::pair(loop.a, -1.0), std::pair(loop.b, 1.0)}) {
    for (int i = end; i != anchor; i = LinkAt(linkage, i).parent) {
      signs[i] = LinkAt(linkage, i).axis.dot(loop.axis) < 0.0 ? -sign : sign;
    }
  }
  return signs;
}

std::vector<int> LinksOfLoop(const Linkage& linkage, const LoopHinge& loop) {
  std::vector<int> links;
  const int anchor = Anchor(linkage, loop);
  for (const int end : {loop.a, loop.b}) {
    for (int i = end; i != anchor; i = LinkAt(linkage, i).parent) {
      links.push_back(i);
    }
  }
  return links;
}

}  // namespace gaitshelf::solver
