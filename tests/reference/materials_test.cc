// Measured numbers of materials: none of them may be refused or warned of.
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/robot/check.h"
#include "solver/robot/plausible.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/demo.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::IsEmpty;

// Static friction by mass and pulley on tapes and sandpaper, the counter-body not stated:
// PMC4808115, table 1. Polyimide film on itself, static and kinetic: its data sheet, ASTM D1894.
// PTFE: two vendors' pages, which disagree. Paper: from memory.
TEST(FrictionTableTest, IsAcceptedWithoutAWord) {
  struct Row {
    const char* surface;
    double friction, uncertainty;
  };
  for (const Row& row : {Row{"medical tape 1527", 0.36, 0.01},
                         Row{"medical tape 9904", 0.59, 0.01},
                         Row{"sandpaper grit 36", 0.73, 0.02},
                         Row{"sandpaper grit 40", 0.86, 0.02},
                         Row{"sandpaper grit 80", 1.00, 0.04},
                         Row{"sandpaper grit 120", 0.88, 0.02},
                         Row{"sandpaper grit 180", 0.94, 0.01},
                         Row{"sandpaper grit 220", 1.17, 0.02},
                         Row{"sandpaper grit 320", 1.07, 0.03},
                         Row{"sandpaper grit 400", 0.85, 0.1},
                         Row{"silicon carbide paper grit 500", 1.16, 0.02},
                         Row{"polyimide film, static", 0.63, 0.0},
                         Row{"polyimide film, kinetic", 0.48, 0.0},
                         Row{"PTFE, low", 0.04, 0.0},
                         Row{"PTFE, high", 0.3, 0.0},
                         Row{"paper, low", 0.3, 0.0},
                         Row{"paper, high", 0.6, 0.0}}) {
    v1::Surface surface = test::MakeSurface(row.friction);
    surface.set_friction_uncertainty_coefficient(row.uncertainty);
    EXPECT_THAT(ToStatus(CheckSurface(surface)), test::IsOk()) << row.surface;
    EXPECT_THAT(SurfaceWarnings(surface), IsEmpty()) << row.surface;
  }
}

// Polyimide film: 2.5 GPa at 23 C and 2.0 GPa at 200 C (data sheet).
TEST(FilmTableTest, IsAcceptedWithoutAWord) {
  for (const double modulus_pa : {2.5e9, 2.0e9}) {
    v1::Robot robot = test::ReadDemoRobot("weevil");
    robot.mutable_legs(0)
        ->mutable_linkage()
        ->mutable_flexures(0)
        ->mutable_bending()
        ->mutable_film()
        ->set_modulus_pa(modulus_pa);
    EXPECT_THAT(ToStatus(CheckRobot(robot)), test::IsOk());
    EXPECT_THAT(RobotWarnings(robot), IsEmpty());
  }
}

// Piezo ceramic of the type 5H by two sources, which differ by 15 % in d31: A. Erturk and D. J.
// Inman, Piezoelectric Energy Harvesting, Wiley 2011, table E.1, and a data sheet. Shims of carbon
// fibre in epoxy along the fibre, across it and woven, by published tables.
TEST(LayerTableTest, IsAcceptedWithoutAWord) {
  struct Piezo {
    double compliance_per_pa, charge_constant_m_per_v, permittivity_ratio;
  };
  for (const Piezo& piezo : {Piezo{16.5e-12, 274e-12, 3400.0}, Piezo{16.6e-12, 320e-12, 3800.0}}) {
    for (const double shim_modulus_pa : {181e9, 10.3e9, 109e9, 8.8e9, 63e9, 69e9}) {
      v1::Robot robot = test::SampleLayeredRobot();
      v1::BimorphLayers* layers = robot.mutable_legs(0)
                                      ->mutable_lumped()
                                      ->mutable_lift()
                                      ->mutable_bimorph()
                                      ->mutable_layers();
      layers->set_piezo_compliance_per_pa(piezo.compliance_per_pa);
      layers->set_charge_constant_m_per_v(piezo.charge_constant_m_per_v);
      layers->set_permittivity_ratio(piezo.permittivity_ratio);
      layers->set_shim_modulus_pa(shim_modulus_pa);
      EXPECT_THAT(ToStatus(CheckRobot(robot)), test::IsOk());
      EXPECT_THAT(RobotWarnings(robot), IsEmpty());
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
