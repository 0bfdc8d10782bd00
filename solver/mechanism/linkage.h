// A linkage as a tree of links that hang on hinges, with loops closed by further hinges.
//
// Every frame coincides with the body frame in the rest posture, in which all angles are 0, so that
// only points and axes are needed. Quantities are in one consistent set of units.
#ifndef GAITSHELF_SOLVER_MECHANISM_LINKAGE_H_
#define GAITSHELF_SOLVER_MECHANISM_LINKAGE_H_

#include <vector>

#include <Eigen/Core>

namespace gaitshelf::solver {

// Stands for the body where a link is named by its index.
inline constexpr int kBodyLink = -1;

// A link and the hinge it hangs on. Parents stand before their children.
struct LinkageLink {
  int parent = kBodyLink;
  Eigen::Vector3d point = Eigen::Vector3d::Zero();
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();
  double stiffness = 0.0;
  double damping = 0.0;
  double mass = 0.0;
  Eigen::Vector3d center = Eigen::Vector3d::Zero();
  Eigen::Matrix3d inertia = Eigen::Matrix3d::Zero();  // about the centre
};

// A hinge that closes a loop: its points on both links stay together in the plane across the axis.
struct LoopHinge {
  int a = kBodyLink;
  int b = kBodyLink;
  Eigen::Vector3d point = Eigen::Vector3d::Zero();
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();
  double stiffness = 0.0;
  double damping = 0.0;
};

// A spring with a mass at its end that pushes a point of a link along a direction fixed in the
// body.
struct LinkagePin {
  bool is_present = false;
  int link = kBodyLink;
  Eigen::Vector3d point = Eigen::Vector3d::Zero();
  Eigen::Vector3d direction = Eigen::Vector3d::UnitZ();
  double stiffness = 0.0;
  double mass = 0.0;
};

struct Linkage {
  std::vector<LinkageLink> links;
  std::vector<LoopHinge> loops;
  std::vector<LinkagePin> pins;
  int foot_link = kBodyLink;
  Eigen::Vector3d foot = Eigen::Vector3d::Zero();
  // Links whose angles are the minimal coordinates, in their order.
  std::vector<int> independent;

  Eigen::Index angle_count() const { return static_cast<Eigen::Index>(links.size()); }
  Eigen::Index loop_equation_count() const { return 2 * static_cast<Eigen::Index>(loops.size()); }
};

// Places of all links at given angles.
struct LinkagePose {
  std::vector<Eigen::Matrix3d> rotation;
  std::vector<Eigen::Vector3d> shift;
  // Axes and points of the hinges, body frame.
  std::vector<Eigen::Vector3d> axis;
  std::vector<Eigen::Vector3d> point;

  Eigen::Matrix3d RotationOf(int link) const;
  // Where a point of a link, given in the rest posture, is now.
  Eigen::Vector3d Place(int link, const Eigen::Vector3d& rest_point) const;
};

void EvaluatePose(const Linkage& linkage,
                  const Eigen::Ref<const Eigen::VectorXd>& angles,
                  LinkagePose* pose);

// Derivatives by the angles, 3 x angle count: of a link's orientation (angular velocity per rate)
// and of a point that moves with it.
void TurnJacobian(const Linkage& linkage,
                  const LinkagePose& pose,
                  int link,
                  Eigen::Matrix3Xd* jacobian);
void PointJacobian(const Linkage& linkage,
                   const LinkagePose& pose,
                   int link,
                   const Eigen::Vector3d& rest_point,
                   Eigen::Matrix3Xd* jacobian);

// Evaluates the loop equations, two a loop, and their derivatives by the angles.
void EvaluateLoops(const Linkage& linkage,
                   const LinkagePose& pose,
                   Eigen::VectorXd* residual,
                   Eigen::MatrixXd* jacobian);

// Angle of a loop's hinge per tree angle: 1, -1 or 0, since its loop is planar.
Eigen::VectorXd HingeSigns(const Linkage& linkage, const LoopHinge& loop);

// Links whose hinges make up a loop together with the closing hinge.
std::vector<int> LinksOfLoop(const Linkage& linkage, const LoopHinge& loop);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MECHANISM_LINKAGE_H_
