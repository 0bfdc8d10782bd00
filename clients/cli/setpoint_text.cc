#include "clients/cli/setpoint_text.h"

#include <algorithm>
#include <cstddef>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace gaitshelf::client {
namespace {

constexpr int kCompactLegs = 4;

// Appends `width` values of row `sample` of a row-by-row array.
template <typename Array>
void AppendValues(const Array& values, int sample, int width, std::string& line) {
  for (int i = 0; i < width; ++i) {
    // 17 digits give every double back.
    absl::StrAppendFormat(&line, ",%.17g", values.Get(sample * width + i));
  }
}

}  // namespace

absl::Status BlockChecker::Check(const v1::SetpointBlock& block) {
  if (!has_names_) {
    leg_names_.assign(block.leg_names().begin(), block.leg_names().end());
    foot_names_.assign(block.foot_names().begin(), block.foot_names().end());
    has_names_ = true;
  }
  if (block.first_sample() != sample_count_) {
    return absl::DataLossError(absl::StrCat("the stream jumped from sample ",
                                            sample_count_,
                                            " to sample ",
                                            block.first_sample(),
                                            "; samples are missing"));
  }
  const int count = block.sample_count();
  const int coordinates = 2 * static_cast<int>(leg_names_.size());
  const int feet = static_cast<int>(foot_names_.size());
  if (count < 0 || block.phase_ratio_size() != count ||
      block.leg_position_m_size() != count * coordinates ||
      block.leg_rate_m_per_s_size() != count * coordinates ||
      block.voltage_v_size() != count * coordinates || block.contact_size() != count * feet ||
      block.body_position_m_size() != count * 3 || block.body_attitude_rad_size() != count * 3) {
    return absl::DataLossError(absl::StrCat("the block at sample ",
                                            block.first_sample(),
                                            " has arrays of another length than its sample_count ",
                                            count,
                                            " says"));
  }
  sample_count_ += count;
  return absl::OkStatus();
}

std::string CsvHeading(const std::vector<std::string>& leg_names,
                       const std::vector<std::string>& foot_names) {
  std::string line = "time_s,phase_ratio";
  for (const char* suffix : {"_m", "_rate_m_per_s", "_voltage_v"}) {
    for (const std::string& leg : leg_names) {
      for (const char* coordinate : {"lift", "swing"}) {
        absl::StrAppend(&line, ",", leg, ".", coordinate, suffix);
      }
    }
  }
  for (const std::string& foot : foot_names) {
    absl::StrAppend(&line, ",", foot, ".contact");
  }
  return absl::StrCat(line,
                      ",body.x_m,body.y_m,body.z_m,body.roll_rad,body.pitch_rad,body.yaw_rad\n");
}

std::string CsvRows(const v1::SetpointBlock& block) {
  std::string text;
  const int count = block.sample_count();
  for (int sample = 0; sample < count; ++sample) {
    std::string line =
        absl::StrFormat("%.9g", block.first_sample_time_s() + sample * block.sample_period_s());
    absl::StrAppendFormat(&line, ",%.17g", block.phase_ratio(sample));
    const int coordinates = block.leg_position_m_size() / count;
    AppendValues(block.leg_position_m(), sample, coordinates, line);
    AppendValues(block.leg_rate_m_per_s(), sample, coordinates, line);
    AppendValues(block.voltage_v(), sample, coordinates, line);
    const int feet = block.contact_size() / count;
    for (int foot = 0; foot < feet; ++foot) {
      absl::StrAppend(&line, ",", block.contact(sample * feet + foot));
    }
    AppendValues(block.body_position_m(), sample, 3, line);
    AppendValues(block.body_attitude_rad(), sample, 3, line);
    absl::StrAppend(&text, line, "\n");
  }
  return text;
}

std::string CompactHeading(const std::vector<std::string>& leg_names) {
  const int shown = std::min(kCompactLegs, static_cast<int>(leg_names.size()));
  std::string names = "   time  phase  feet  ";
  std::string units = "      s            ";
  for (int leg = 0; leg < shown; ++leg) {
    absl::StrAppendFormat(&names, " %-12s", leg_names[static_cast<std::size_t>(leg)].substr(0, 12));
    absl::StrAppend(&units, leg == 0 ? "    lift swing" : "   lift swing");
  }
  return absl::StrCat(absl::StripTrailingAsciiWhitespace(names), "\n", units, " mm\n");
}

std::string CompactRow(const v1::SetpointBlock& block, int sample) {
  const int count = block.sample_count();
  const double phase = block.phase_ratio(sample);
  std::string line =
      absl::StrFormat("%7.3f  %5s  ",
                      block.first_sample_time_s() + sample * block.sample_period_s(),
                      phase < 0.0 ? std::string("ramp") : absl::StrFormat("%.3f", phase));
  const int feet = block.contact_size() / count;
  for (int foot = 0; foot < std::min(feet, kCompactLegs); ++foot) {
    line += block.contact(sample * feet + foot) != 0 ? 'x' : '.';
  }
  const int coordinates = block.leg_position_m_size() / count;
  for (int leg = 0; leg < std::min(coordinates / 2, kCompactLegs); ++leg) {
    absl::StrAppendFormat(&line,
                          "  %+5.2f %+5.2f",
                          block.leg_position_m(sample * coordinates + 2 * leg) * 1e3,
                          block.leg_position_m(sample * coordinates + 2 * leg + 1) * 1e3);
  }
  return absl::StrCat(line, "\n");
}

}  // namespace gaitshelf::client
