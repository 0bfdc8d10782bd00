// Bimorphs given by their layers against closed forms of beam theory, a sum over thin slices and a
// beam's own frequency.
#include "solver/robot/bimorph.h"

#include <cmath>

#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

// Piezo ceramic of the type 5H: s11 16.5 pm^2/N, d31 -274 pm/V, permittivity 3400 (A. Erturk and D.
// J. Inman, Piezoelectric Energy Harvesting, Wiley 2011, table E.1; another data sheet has -320
// pm/V, so a beam is known to 15 % only). The shim and the sizes are invented.
v1::Bimorph Beam() {
  v1::Bimorph bimorph;
  v1::BimorphLayers* layers = bimorph.mutable_layers();
  layers->set_length_m(0.01);
  layers->set_width_m(0.002);
  layers->set_piezo_thickness_m(127e-6);
  layers->set_shim_thickness_m(50e-6);
  layers->set_shim_modulus_pa(120e9);
  layers->set_piezo_compliance_per_pa(16.5e-12);
  layers->set_charge_constant_m_per_v(274e-12);
  layers->set_permittivity_ratio(3400.0);
  layers->set_wiring(v1::BIMORPH_WIRING_PARALLEL);
  return bimorph;
}

// Worked example, derived with SymPy apart from this program: at 100 V a layer the blocked force is
// 88.1782 mN and the free travel 103.1252 um, tip stiffness 855.0595 N/m, 4.7407 nF a layer.
TEST(BimorphReferenceTest, TakesTheWorkedExample) {
  const v1::Bimorph beam = WithoutLayers(Beam());
  const double force_n = 100.0 * beam.gain_n_per_v();
  EXPECT_NEAR(force_n, 0.0881781818181818, 1e-9 * 0.088);
  EXPECT_NEAR(beam.stiffness_n_per_m(), 855.0595151515149, 1e-9 * 855.0);
  EXPECT_NEAR(force_n / beam.stiffness_n_per_m(), 0.0001031251980191774, 1e-9 * 1e-4);
  // The permittivity of vacuum was rounded to 8.854e-12 F/m there.
  EXPECT_NEAR(0.5 * beam.capacitance_f(), 4.740724409448819e-9, 3e-5 * 4.74e-9);
}

// Two layers alone: free travel 3 d31 V L^2 / (4 t^2) and blocked force 3 w t d31 V / (4 s11 L)
// times 2 for parallel wiring; half of both for series (J. G. Smits and W. Choi, IEEE Trans. UFFC
// 38 (1991) 256-270, from memory; the same by SymPy). It is Timoshenko's bi-metal strip, J. Opt.
// Soc. Am. 11 (1925) 233-255, with the strain d31 V / t instead of heat.
TEST(BimorphReferenceTest, TwoLayersTakeTheClosedForms) {
  v1::Bimorph described = Beam();
  described.mutable_layers()->clear_shim_thickness_m();
  described.mutable_layers()->clear_shim_modulus_pa();
  v1::Bimorph beam = WithoutLayers(described);
  EXPECT_NEAR(beam.gain_n_per_v() / beam.stiffness_n_per_m(), 1.2741025482050965e-6, 1e-15);
  EXPECT_NEAR(beam.gain_n_per_v(), 0.000632690909090909, 1e-12);
  described.mutable_layers()->set_wiring(v1::BIMORPH_WIRING_SERIES);
  beam = WithoutLayers(described);
  EXPECT_NEAR(beam.gain_n_per_v() / beam.stiffness_n_per_m(), 0.5 * 1.2741025482050965e-6, 1e-15);
  EXPECT_NEAR(beam.gain_n_per_v(), 0.75 * 0.002 * 127e-6 * 274e-12 / (16.5e-12 * 0.01), 1e-12);
}

// The section in slices: stress E (z kappa - free strain), no moment when free, all of it when
// blocked. Nothing of the closed form is used.
TEST(BimorphReferenceTest, AgreesWithASumOverThinSlices) {
  constexpr int kCount = 200000;
  constexpr double kWidth = 0.002, kLayer = 127e-6, kShim = 50e-6, kLength = 0.01;
  constexpr double kThickness = 2.0 * kLayer + kShim;
  double bending = 0.0, moment_per_v = 0.0;
  for (int i = 0; i < kCount; ++i) {
    const double z = kThickness * ((i + 0.5) / kCount - 0.5);
    const bool is_piezo = std::abs(z) > 0.5 * kShim;
    const double modulus = is_piezo ? 1.0 / 16.5e-12 : 120e9;
    const double strain_per_v = is_piezo ? std::copysign(274e-12 / kLayer, z) : 0.0;
    const double slice = kWidth * kThickness / kCount;
    bending += slice * modulus * z * z;
    moment_per_v += slice * modulus * z * strain_per_v;
  }
  const v1::Bimorph beam = WithoutLayers(Beam());
  EXPECT_NEAR(beam.stiffness_n_per_m(), 3.0 * bending / std::pow(kLength, 3), 1e-2);
  // Free tip: curvature M / (E I) over the length; blocked: the force that brings it back.
  const double free_m_per_v = 0.5 * moment_per_v / bending * kLength * kLength;
  EXPECT_NEAR(beam.gain_n_per_v() / beam.stiffness_n_per_m(), free_m_per_v, 1e-5 * free_m_per_v);
}

// The bare beam (7500 and 1600 kg/m^3) rings at 1499.385 Hz, (1.8751)^2 / L^2 sqrt(E I / m').
// Taking 33/140 of its mass to the tip gives 1.4652 % more (Lord Rayleigh, from memory), which is
// what the mass that moves with the tip should be.
TEST(BimorphReferenceTest, RingsLikeItsBeamWith33Of140OfItsMassAtTheTip) {
  const double beam_kg = 0.01 * 0.002 * (2.0 * 127e-6 * 7500.0 + 50e-6 * 1600.0);
  ASSERT_NEAR(beam_kg, 3.97e-5, 1e-18);
  const double omega =
      std::sqrt(WithoutLayers(Beam()).stiffness_n_per_m() / (33.0 / 140.0 * beam_kg));
  EXPECT_NEAR(omega / (2.0 * M_PI * 1499.3850467874963), 1.01465154944711089, 1e-8);
}

// The beam in a robot: a foot on a drive of 0 to 200 V at transmission 1 moves as the worked
// example says, half of its free travel to either side of the bias.
TEST(BimorphReferenceTest, DrivesARobotsFoot) {
  v1::Robot robot = test::MakeBody(1.0, 1e-3);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  v1::LumpedLeg* leg = test::AddLeg(&robot, 0.0, 0.0, 0.0)->mutable_lumped();
  leg->mutable_lift()->set_transmission_ratio(1.0);
  leg->mutable_lift()->set_stiffness_n_per_m(0.0);
  v1::Bimorph* bimorph = leg->mutable_lift()->mutable_bimorph();
  *bimorph->mutable_layers() = Beam().layers();
  bimorph->clear_gain_n_per_v();
  bimorph->clear_stiffness_n_per_m();
  const RobotModel model = RobotModel::Create(robot, test::MakeSurface(0.5), Scale())->InFreeFall();
  LagrangianTerms terms;
  const Eigen::Vector2d free_travel(0.0001031251980191774, 0.0);
  model.Evaluate(free_travel, Eigen::Vector2d::Zero(), DerivativeOrder::kFirst, &terms);
  Eigen::VectorXd force;
  model.DriveForce(free_travel, Eigen::Vector2d(1.0, 0.0), &force);
  EXPECT_NEAR(force[0], 0.0881781818181818, 1e-9);
  EXPECT_NEAR(force[0] + terms.force[0], 0.0, 1e-9);
}

}  // namespace
}  // namespace gaitshelf::solver
