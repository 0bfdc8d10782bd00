#include "clients/cli/table.h"

#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

TEST(TableTest, AlignsColumnsAndCutsTrailingBlanks) {
  Table table({"name", ">mm", "note"});
  table.AddRow({"a", "9.00", "first"});
  table.AddRow({"longer", "12.50"});
  EXPECT_EQ(table.ToText(),
            "name       mm  note\n"
            "a        9.00  first\n"
            "longer  12.50\n");
}

TEST(TableTest, KeepsTablesUnderTheirNames) {
  NamedTables tables({"a", ">b"});
  EXPECT_EQ(tables.ToText(1), "a  b\n");
  tables.Of("first").AddRow({"x", "1"});
  EXPECT_EQ(tables.ToText(1), "first\na  b\nx  1\n");
  EXPECT_EQ(tables.ToText(2), "a  b\nx  1\n");
  tables.Of("second").AddRow({"y", "10"});
  tables.Of("first").AddRow({"z", "2"});
  EXPECT_EQ(tables.ToText(2), "first\na  b\nx  1\nz  2\n\nsecond\na   b\ny  10\n");
}

TEST(TableTest, WritesTasksAndStatesInWords) {
  v1::Task task;
  EXPECT_EQ(TaskText(task), "no task");
  task.mutable_advance()->set_advance_m(0.009);
  EXPECT_EQ(TaskText(task), "advance 9 mm");
  task.mutable_advance()->set_turn_rad(0.1);
  EXPECT_EQ(TaskText(task), "advance 9 mm turn 5.73 deg");
  task.mutable_advance()->Clear();
  task.mutable_advance()->set_is_maximal(true);
  EXPECT_EQ(TaskText(task), "advance max");
  task.mutable_stand()->set_height_m(-0.0005);
  EXPECT_EQ(TaskText(task), "stand -0.5 mm");
  task.mutable_hop()->set_rise_m(0.0085);
  EXPECT_EQ(TaskText(task), "hop 8.5 mm");
  task.mutable_hop()->set_advance_m(0.004);
  EXPECT_EQ(TaskText(task), "hop 8.5 mm over 4 mm");
  v1::Transition& transition = *task.mutable_transition();
  transition.set_from_gait("g-0123456789abcdef0123456789abcdef");
  transition.set_from_phase_ratio(0.25);
  transition.set_to_gait("g-fedcba9876543210fedcba9876543210");
  EXPECT_EQ(TaskText(task), "g-0123@0.25 into g-fedc@0");
  EXPECT_EQ(VerdictText(v1::VERDICT_UNSPECIFIED), "not audited");
  EXPECT_EQ(VerdictText(v1::VERDICT_GOOD), "good");
  EXPECT_EQ(StateText(v1::JOB_STATE_CANCELLED), "cancelled");
  EXPECT_EQ(PhaseText(v1::PLAN_PHASE_REFINING), "refining");
  EXPECT_EQ(EnumText("PLAN_OUTCOME_AT_LIMIT", "PLAN_OUTCOME_"), "at limit");
}

TEST(TableTest, WritesSeveralSurfacesWideAndNarrow) {
  v1::GaitOrder order;
  EXPECT_EQ(SurfacesText("duct-steel", order.also_on()), "duct-steel");
  EXPECT_EQ(SurfacesCell("duct-steel-2", 0), "duct-steel");
  order.add_also_on("liner-felt");
  EXPECT_EQ(SurfacesText("duct-steel", order.also_on()), "duct-steel and liner-felt");
  order.add_also_on("grit-tape");
  EXPECT_EQ(SurfacesText("duct-steel", order.also_on()), "duct-steel, liner-felt and grit-tape");
  EXPECT_EQ(SurfacesCell("duct-steel", 2), "duct-ste+2");
}

TEST(TableTest, CutsTitlesBetweenCharacters) {
  EXPECT_EQ(ShortTitle("first run", 9), "first run");
  EXPECT_EQ(ShortTitle("first runs", 9), "first ...");
  // An umlaut is two bytes, which stay together.
  EXPECT_EQ(ShortTitle("abcde\xc3\xa4xyz", 9), "abcde...");
  EXPECT_EQ(ShortTitle("abcd\xc3\xa4xyz", 9), "abcd\xc3\xa4xyz");
  EXPECT_EQ(ShortTitle("\xc3\xa4\xc3\xa4", 3), "...");
}

TEST(TableTest, WritesQuantitiesWithUnits) {
  EXPECT_EQ(Millimetres(0.00912), "9.12 mm");
  EXPECT_EQ(Hertz(12.0), "12 Hz");
  EXPECT_EQ(Scientific(3.2e-7), "3.2e-07");
  EXPECT_EQ(Fixed(1.005, 1), "1.0");
}

}  // namespace
}  // namespace gaitshelf::client
