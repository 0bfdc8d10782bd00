#include "solver/robot/text_reader.h"

#include <cmath>
#include <memory>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/text_format.h>
#include <google/protobuf/util/message_differencer.h>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "solver/base/utf8.h"
#include "solver/robot/rules.h"
#include "tests/solver/robot/field_visitor.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::TextFormat;
using google::protobuf::util::MessageDifferencer;
using test::FieldPlace;
using testing::HasSubstr;

// Takes what protobuf's parser reports and drops it.
class Silence final : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int /*line*/, int /*column*/, const std::string& /*message*/) override {}
};

// Faults of a text that is read as a robot, a line each: "LINE:COLUMN FIELD VALUE".
std::vector<std::string> Faults(const std::string& text) {
  v1::Robot robot;
  std::vector<std::string> lines;
  for (const TextFault& fault : ReadText(text, &robot)) {
    lines.push_back(absl::StrCat(
        fault.line, ":", fault.column, " ", fault.fault.field, " ", fault.fault.value));
    EXPECT_FALSE(fault.fault.problem.empty());
    EXPECT_FALSE(fault.fault.mend.empty());
  }
  return lines;
}

v1::Robot ReadGood(const std::string& text) {
  v1::Robot robot;
  const std::vector<TextFault> faults = ReadText(text, &robot);
  EXPECT_TRUE(faults.empty()) << faults.front().fault.field << " " << faults.front().fault.problem;
  return robot;
}

// protobuf's own printer is the outside check: whatever it writes is read back the same.
TEST(TextReaderTest, ReadsWhatProtobufPrints) {
  for (const bool is_single_line : {false, true}) {
    TextFormat::Printer printer;
    printer.SetSingleLineMode(is_single_line);
    printer.SetUseShortRepeatedPrimitives(is_single_line);
    std::string text;
    v1::Robot robot = test::SampleRobot();
    robot.set_title("quotes \" ' and \\ and \xC3\xA9 and\ttab");
    robot.mutable_body()->set_mass_kg(std::nextafter(1.9e-3, 1.0));
    ASSERT_TRUE(printer.PrintToString(robot, &text));
    EXPECT_TRUE(MessageDifferencer::Equals(ReadGood(text), robot));
  }
}

// The same text must mean the same to protobuf's parser.
TEST(TextReaderTest, AgreesWithProtobufsParserOnEveryWayOfWriting) {
  for (const char* text : {"name: 'a' \"b\"\n\"c\"",
                           "body: { mass_kg: 1e-3; inertia_kg_m2: [1, 2., 3e0] },",
                           "body < size_m: 1 size_m: 2, size_m: 3f >",
                           "body { center_of_mass_m: [] }",
                           "legs [{name: 'a'}, {name: 'b'}] legs { name: 'c' }",
                           "legs: [] # nothing\n# at all",
                           "body { support: 2 clamp_height_m: -0.5 }",
                           "body { support: BODY_SUPPORT_FREE mass_kg: -inf }",
                           "legs { lumped { lift { bimorph { } } } }",
                           ""}) {
    v1::Robot expected;
    ASSERT_TRUE(TextFormat::ParseFromString(text, &expected)) << text;
    EXPECT_TRUE(MessageDifferencer::Equals(ReadGood(text), expected)) << text;
  }
}

TEST(TextReaderTest, ReadsNotANumber) {
  EXPECT_TRUE(std::isnan(ReadGood("body { mass_kg: nan }").body().mass_kg()));
}

TEST(TextReaderTest, TellsEachKindOfFault) {
  const std::pair<const char*, const char*> cases[] = {
      {"weight: 3", "1:1 weight unknown"},
      {"body { weight { a: [1, {b: 2}] } }", "1:8 body.weight unknown"},
      {"legs {} legs { lumped { foot_m: [1, x, 3] } }", "1:37 legs[1].lumped.foot_m[1] x"},
      {"body: 3", "1:7 body 3"},
      {"name: weevil", "1:7 name weevil"},
      {"name: \"a\" name: \"b\"", "1:11 name given twice"},
      {"legs { lumped {} linkage {} }", "1:18 legs[0].linkage given beside lumped"},
      {"body { mass_kg: { a: 1 } }", "1:17 body.mass_kg {"},
      {"body { mass_kg: [1] }", "1:17 body.mass_kg a list"},
      {"body { mass_kg: 1.9 g }", "1:17 body.mass_kg 1.9 g"},
      {"legs { lumped { lift { stiffness_n_per_m: 1.4 N/mm } } }",
       "1:43 legs[0].lumped.lift.stiffness_n_per_m 1.4 N/mm"},
      {"body { mass_kg: 0x10 }", "1:17 body.mass_kg 0x10"},
      {"body { mass_kg: 010 }", "1:17 body.mass_kg 010"},
      {"body { mass_kg: -\"1\" }", "1:17 body.mass_kg -"},
      {"body { mass_kg: }", "1:17 body.mass_kg missing"},
      {"body { support: CLAMPED }", "1:17 body.support CLAMPED"},
      {"body { support: 7 }", "1:17 body.support 7"},
      {"body { mass_kg: 1", "1:6 body a part"},
      {"body { inertia_kg_m2: [1, 2 support: 1 }", "1:23 body.inertia_kg_m2 a list"},
      {"body { mass_kg 1 }", "1:16 body.mass_kg 1"},
      {"body { mass_kg: 1 } }", "1:21 the description }"},
      {"3: 4", "1:1 the description 3"},
      {"name: \"\xFF\"", "1:7 name \"\\377\""},
      {"[type.example/x] { }", "1:1 the description ["},
  };
  for (const auto& [text, fault] : cases) {
    EXPECT_THAT(Faults(text), testing::Contains(fault)) << text;
  }
}

TEST(TextReaderTest, GoesOnBehindAFault) {
  EXPECT_THAT(Faults("weight: 3\nbody {\n  mass_kg: heavy\n  colour { a: 1 }\n  size_m: [1, 2, ?]\n"
                     "}\nname: 4\n"),
              testing::ElementsAre("1:1 weight unknown",
                                   "3:12 body.mass_kg heavy",
                                   "4:3 body.colour unknown",
                                   "5:18 body.size_m[2] ?",
                                   "7:7 name 4"));
}

TEST(TextReaderTest, StopsAtATextThatIsTooLong) {
  EXPECT_THAT(Faults(std::string(524289, ' ')),
              testing::ElementsAre("1:1 the description 524289 bytes"));
  EXPECT_THAT(Faults(std::string(524288, ' ')), testing::IsEmpty());
  std::string words;
  for (int i = 0; i < 16384; ++i) {
    words += "legs:{}";  // four words
  }
  EXPECT_THAT(Faults(words), testing::IsEmpty());
  EXPECT_THAT(Faults(words + "legs:{}"), testing::ElementsAre("1:1 the description 65537 words"));
}

// Gives the numbers of a field all the digits that a double can have.
void WriteOut(const FieldPlace& place) {
  if (!place.is_number()) {
    return;
  }
  const google::protobuf::Reflection& reflection = *place.owner->GetReflection();
  if (!place.field->is_repeated()) {
    if (reflection.HasField(*place.owner, place.field)) {
      place.SetNumber(reflection.GetDouble(*place.owner, place.field) / 3.0);
    }
    return;
  }
  for (int i = 0; i < reflection.FieldSize(*place.owner, place.field); ++i) {
    const double value = reflection.GetRepeatedDouble(*place.owner, place.field, i);
    reflection.SetRepeatedDouble(place.owner, place.field, i, value / 3.0);
  }
}

// As many legs, links and flexures as the rules of the check allow, with numbers of 17 digits.
TEST(TextReaderTest, TakesTheLargestRobotOfTheRules) {
  v1::Robot robot = test::ReadDemoRobot("weevil");
  v1::LinkageLeg* linkage = robot.mutable_legs(0)->mutable_linkage();
  while (linkage->links_size() < 16) {
    *linkage->add_links() = linkage->links(0);
  }
  while (linkage->flexures_size() < 16) {
    *linkage->add_flexures() = linkage->flexures(0);
  }
  while (linkage->closing_flexures_size() < 7) {
    *linkage->add_closing_flexures() = linkage->closing_flexures(0);
  }
  const v1::Leg leg = robot.legs(0);
  robot.clear_legs();
  while (robot.legs_size() < 16) {
    *robot.add_legs() = leg;
  }
  test::VisitFields(&robot, "", WriteOut);
  std::string text;
  ASSERT_TRUE(TextFormat::PrintToString(robot, &text));
  EXPECT_GT(text.size(), 300'000U);
  EXPECT_THAT(Faults(text), testing::IsEmpty());
}

// A fault goes into a message, whose texts are UTF-8.
TEST(TextReaderTest, TellsFaultsInUtf8WhateverTheTextIs) {
  v1::Robot robot;
  for (const std::string text : {"\xc3",
                                 "name: \xc3\xa4",
                                 "\xffname: 1",
                                 "body { mass_kg: 1 \xe2\x82 }",
                                 "name: \"\xf0\x9f\""}) {
    const std::vector<TextFault> faults = ReadText(text, &robot);
    EXPECT_FALSE(faults.empty()) << text;
    for (const TextFault& fault : faults) {
      EXPECT_TRUE(
          IsUtf8(fault.fault.field + fault.fault.value + fault.fault.problem + fault.fault.mend))
          << fault.fault.value;
    }
  }
}

TEST(TextReaderTest, TellsTheFirstTwentyFaultsAndNoLongWords) {
  std::string text = std::string(200000, 'a') + ": 1\n";
  for (int i = 0; i < 200; ++i) {
    text += "mass: 1\n? \x80\n";
  }
  v1::Robot robot;
  const std::vector<TextFault> faults = ReadText(text, &robot);
  ASSERT_EQ(faults.size(), 21U);
  EXPECT_EQ(faults[20].fault.problem, "has more than 20 faults");
  EXPECT_EQ(faults[0].fault.field, std::string(80, 'a') + "...");
  EXPECT_EQ(faults[1].line, 2);
  EXPECT_LT(faults[19].line, 16);
}

TEST(TextReaderTest, DoesNotSinkIntoDeepBrackets) {
  EXPECT_FALSE(Faults("weight " + std::string(200000, '{')).empty());
  EXPECT_FALSE(Faults("body { mass_kg: " + std::string(200000, '[')).empty());
}

// Bytes changed, taken out and doubled at random: the reader ends, and what it takes
// protobuf's parser takes in the same sense. Seeds are fixed, so that a failure comes again.
TEST(TextReaderTest, EndsOnDamagedText) {
  std::string good;
  ASSERT_TRUE(TextFormat::PrintToString(test::SampleRobot(), &good));
  std::mt19937 random(20260301);
  const std::string bytes = "{}[]<>:,;\"'#-\\ \n\t09azAZ._\xC3\xFF";
  int good_count = 0;
  for (int round = 0; round < 2000; ++round) {
    std::string text = good;
    for (int change = 0; change < 3; ++change) {
      const size_t at = random() % text.size();
      const size_t count = random() % 20;
      switch (random() % 3) {
        case 0:
          text[at] = bytes[random() % bytes.size()];
          break;
        case 1:
          text.erase(at, count);
          break;
        default:
          text.insert(at, text.substr(at, count));
      }
    }
    v1::Robot robot;
    v1::Robot expected;
    const bool is_good = ReadText(text, &robot).empty();
    google::protobuf::TextFormat::Parser parser;
    Silence silence;
    parser.RecordErrorsTo(&silence);
    const bool is_good_to_protobuf = parser.ParseFromString(text, &expected);
    if (is_good) {
      ASSERT_TRUE(is_good_to_protobuf) << text;
      EXPECT_EQ(robot.ShortDebugString(), expected.ShortDebugString()) << text;
      ++good_count;
    }
  }
  EXPECT_GT(good_count, 0);
  EXPECT_LT(good_count, 2000);
}

// Every number of every message, written with the unit that its field does not have.
TEST(TextReaderTest, TellsTheRightFieldForEveryNumberInAWrongUnit) {
  int count = 0;
  const auto check = [&count](google::protobuf::Message* message) {
    test::VisitFields(message, "", [&count](const FieldPlace& place) {
      if (!place.is_number()) {
        return;
      }
      const Unit* unit = FindUnit(place.field->name());
      ASSERT_NE(unit, nullptr) << place.path;
      const std::string stem =
          place.field->name().substr(0, place.field->name().size() - unit->suffix.size());
      const std::string wrong = stem + "_furlong";
      const std::unique_ptr<google::protobuf::Message> owner(place.owner->New());
      const std::vector<TextFault> faults = ReadText(wrong + ": 1", owner.get());
      ASSERT_EQ(faults.size(), 1u) << place.path;
      EXPECT_EQ(faults[0].fault.field, wrong);
      EXPECT_THAT(faults[0].fault.mend, HasSubstr("write " + place.field->name() + "; give "));
      ++count;
    });
  };
  v1::Robot robot = test::SampleRobot();
  v1::Surface surface = test::SampleSurface();
  check(&robot);
  check(&surface);
  EXPECT_GT(count, 80);
}

// Every field of every message, misspelt.
TEST(TextReaderTest, TellsTheRightFieldForEveryMisspeltName) {
  v1::Robot robot = test::SampleRobot();
  test::VisitFields(&robot, "", [](const FieldPlace& place) {
    const std::string wrong = place.field->name() + "x";
    const std::unique_ptr<google::protobuf::Message> owner(place.owner->New());
    const std::vector<TextFault> faults = ReadText(wrong + " { a: 1 }", owner.get());
    ASSERT_EQ(faults.size(), 1u) << place.path;
    EXPECT_EQ(faults[0].fault.field, wrong);
    EXPECT_EQ(faults[0].fault.value, "unknown");
    EXPECT_THAT(faults[0].fault.mend, HasSubstr(place.field->name()));
  });
}

}  // namespace
}  // namespace gaitshelf::solver
