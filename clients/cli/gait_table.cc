#include "clients/cli/gait_table.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

// One array of the table.
struct Part {
  const char* name;  // of the array
  const char* unit;  // SI unit as names end in it
  const char* text;
  FixedPoint fixed;
};

std::vector<Part> PartsOf(const v1::SetpointBlock& block, int bits) {
  return {
      {"position", "m", "lift and swing of each leg", ToFixedPoint(block.leg_position_m(), bits)},
      {"rate", "m_per_s", "their rates", ToFixedPoint(block.leg_rate_m_per_s(), bits)},
      {"voltage", "v", "feed-forward voltage", ToFixedPoint(block.voltage_v(), bits)}};
}

int TypeBits(int bits) { return bits <= 8 ? 8 : (bits <= 16 ? 16 : 32); }

std::string WhatText(const v1::Gait& gait) {
  return absl::StrCat(
      gait.robot(),
      " on ",
      gait.surface(),
      ", ",
      TaskText(gait.task()),
      gait.is_periodic() ? absl::StrCat(" at ", Hertz(gait.stride_frequency_hz())) : "");
}

// The most that a number of the text may be off, with the digits of the text allowed for.
std::string Error(double worst_error) { return absl::StrFormat("%.6g", worst_error * 1.00001); }

// Foot f of a sample is bit f.
std::string ContactBits(const v1::SetpointBlock& block, int sample) {
  std::uint64_t bits = 0;
  const int feet = block.foot_names_size();
  for (int foot = 0; foot < feet; ++foot) {
    bits |= block.contact(sample * feet + foot) != 0 ? std::uint64_t{1} << foot : 0U;
  }
  return absl::StrFormat("0x%xu", bits);
}

void AppendNumbers(const FixedPoint& fixed, int sample, int width, std::string& line) {
  const auto first = fixed.counts.begin() + std::ptrdiff_t{sample} * width;
  absl::StrAppend(&line, absl::StrJoin(first, first + width, ","));
}

void AppendDefine(const std::string& name, const std::string& value, std::string& text) {
  absl::StrAppendFormat(&text, "#define %s %s\n", absl::AsciiStrToUpper(name), value);
}

std::string Heading(const v1::Gait& gait, const std::string& name) {
  return absl::StrFormat(
      "/* %s\n * %s\n *\n"
      " * One %s at even times. value = integer * unit; sample s is due s periods after\n"
      " * the first.%s Row by row: lift, then swing, leg after leg:\n"
      " *   %s\n"
      " * Bit f of %s_contact[s] says whether foot f bears load:\n"
      " *   %s\n"
      " *\n"
      " * CAUTION: nothing here is limited or ramped. Come slowly from rest to the first\n"
      " * sample and back, hold the drives' range and slew, arm by a present person. Piezo\n"
      " * drives carry 100 to 300 V and stay charged; legs move without warning. Local\n"
      " * codes, the maker's manual and a licensed or trained person decide whether that\n"
      " * is safe. */\n",
      gait.name(),
      WhatText(gait),
      gait.is_periodic() ? "cycle" : "hop",
      gait.is_periodic() ? " After the last comes the first." : "",
      absl::StrJoin(gait.leg_names(), ", "),
      name,
      absl::StrJoin(gait.foot_names(), ", "));
}

}  // namespace

FixedPoint ToFixedPoint(const google::protobuf::RepeatedField<double>& values, int bits) {
  FixedPoint fixed;
  double greatest = 0.0;
  for (const double value : values) {
    greatest = std::max(greatest, std::abs(value));
  }
  if (greatest > 0.0) {
    fixed.unit = greatest / (std::ldexp(1.0, bits - 1) - 1.0);
  }
  for (const double value : values) {
    const double count = std::round(value / fixed.unit);
    fixed.counts.push_back(static_cast<std::int32_t>(count));
    fixed.worst_error = std::max(fixed.worst_error, std::abs(value - count * fixed.unit));
  }
  return fixed;
}

bool IsTableName(const std::string& name) {
  constexpr std::size_t kLongest = 31;
  return !name.empty() && name.size() <= kLongest &&
         absl::ascii_isalpha(static_cast<unsigned char>(name[0])) &&
         std::all_of(name.begin(), name.end(), [](char letter) {
           return absl::ascii_isalnum(static_cast<unsigned char>(letter)) || letter == '_';
         });
}

std::string TableHeader(const v1::Gait& gait,
                        const v1::SetpointBlock& block,
                        const std::string& name,
                        int bits) {
  const int width = 2 * block.leg_names_size();
  const std::string guard = absl::StrCat(absl::AsciiStrToUpper(name), "_TABLE_H");
  std::string text = Heading(gait, name);
  absl::StrAppendFormat(&text, "#ifndef %s\n#define %s\n#include <stdint.h>\n\n", guard, guard);
  AppendDefine(name + "_sample_count", absl::StrCat(block.sample_count()), text);
  AppendDefine(name + "_coordinate_count", absl::StrCat(width), text);
  AppendDefine(name + "_foot_count", absl::StrCat(block.foot_names_size()), text);
  AppendDefine(name + "_is_periodic", gait.is_periodic() ? "1" : "0", text);
  AppendDefine(name + "_sample_period_s", absl::StrFormat("%.17g", block.sample_period_s()), text);
  for (const Part& part : PartsOf(block, bits)) {
    const std::string array = absl::StrCat(name, "_", part.name);
    absl::StrAppendFormat(&text, "\n/* %s */\n", part.text);
    AppendDefine(
        absl::StrCat(array, "_unit_", part.unit), absl::StrFormat("%.17g", part.fixed.unit), text);
    AppendDefine(
        absl::StrCat(array, "_worst_error_", part.unit), Error(part.fixed.worst_error), text);
    absl::StrAppendFormat(&text,
                          "static const int%d_t %s[%d][%d] = {\n",
                          TypeBits(bits),
                          array,
                          block.sample_count(),
                          width);
    for (int sample = 0; sample < block.sample_count(); ++sample) {
      absl::StrAppend(&text, "  {");
      AppendNumbers(part.fixed, sample, width, text);
      absl::StrAppend(&text, "},\n");
    }
    absl::StrAppend(&text, "};\n");
  }
  absl::StrAppendFormat(
      &text,
      "\n/* feet that bear load */\nstatic const uint%d_t %s_contact[%d] = {\n",
      block.foot_names_size() <= 8 ? 8 : (block.foot_names_size() <= 16 ? 16 : 32),
      name,
      block.sample_count());
  for (int sample = 0; sample < block.sample_count(); ++sample) {
    absl::StrAppend(&text, "  ", ContactBits(block, sample), ",\n");
  }
  absl::StrAppendFormat(&text, "};\n\n#endif /* %s */\n", guard);
  return text;
}

std::string TableCsv(const v1::Gait& gait, const v1::SetpointBlock& block, int bits) {
  const std::vector<Part> parts = PartsOf(block, bits);
  std::string text =
      absl::StrFormat("# %s: %s\n# sample_period_s %.17g\n# value = integer * unit\n",
                      gait.name(),
                      WhatText(gait),
                      block.sample_period_s());
  std::string columns = "sample";
  for (const Part& part : parts) {
    absl::StrAppendFormat(&text,
                          "# %s_unit_%s %.17g, worst error %s\n",
                          part.name,
                          part.unit,
                          part.fixed.unit,
                          Error(part.fixed.worst_error));
    for (const std::string& leg : block.leg_names()) {
      absl::StrAppendFormat(&columns, ",%s.lift_%s,%s.swing_%s", leg, part.name, leg, part.name);
    }
  }
  for (const std::string& foot : block.foot_names()) {
    absl::StrAppend(&columns, ",", foot, ".contact");
  }
  absl::StrAppend(&text, columns, "\n");
  const int width = 2 * block.leg_names_size();
  const int feet = block.foot_names_size();
  for (int sample = 0; sample < block.sample_count(); ++sample) {
    std::string line = absl::StrCat(sample);
    for (const Part& part : parts) {
      absl::StrAppend(&line, ",");
      AppendNumbers(part.fixed, sample, width, line);
    }
    const auto contact = block.contact().begin() + std::ptrdiff_t{sample} * feet;
    absl::StrAppend(&text, line, ",", absl::StrJoin(contact, contact + feet, ","), "\n");
  }
  return text;
}

}  // namespace gaitshelf::client
