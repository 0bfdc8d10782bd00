// Sampling, quantisation and tables against outside figures.
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include <gtest/gtest.h>

#include "service/playback/sampling.h"
#include "service/playback/setpoint_source.h"
#include "service/playback/voltage_limiter.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::service {
namespace {

// Source: C. E. Shannon, "Communication in the presence of noise", Proc. IRE 37 (1949) 10-21, for
// fs > 2 f_max; the folding formula |f - fs round(f / fs)| is its textbook form. The figures were
// worked out from the formula for fs = 1 kHz.
TEST(SignalsReferenceTest, ContentAboveHalfTheRateFolds) {
  EXPECT_DOUBLE_EQ(AliasHz(400.0, 1000.0), 400.0);
  EXPECT_DOUBLE_EQ(AliasHz(500.0, 1000.0), 500.0);
  EXPECT_DOUBLE_EQ(AliasHz(600.0, 1000.0), 400.0);
  EXPECT_DOUBLE_EQ(AliasHz(980.0, 1000.0), 20.0);
  EXPECT_DOUBLE_EQ(AliasHz(1020.0, 1000.0), 20.0);
  EXPECT_DOUBLE_EQ(AliasHz(1400.0, 1000.0), 400.0);
}

// The same in the product: the leg trajectory of a stream taken too slowly has its content where
// the formula puts it.
TEST(SignalsReferenceTest, StreamTakenTooSlowlyFoldsAsTheFormulaSays) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::Gait gait =
      test::MakeSineGait(robot, {.knot_count = 200, .frequency_hz = 10.0, .harmonic = 8});
  constexpr double kRateHz = 100.0;  // 80 Hz shows as 20 Hz
  ASSERT_LT(kRateHz, LeastSampleRateHz(gait));
  SetpointSource source =
      SetpointSource::Create(gait, robot, {.sample_rate_hz = kRateHz, .duration_s = 1.0}).value();
  const v1::SetpointBlock block = source.NextBlock(1000);
  std::vector<double> samples;
  for (int i = 50; i < 150; ++i) {
    samples.push_back(block.leg_position_m(8 * i));
  }
  EXPECT_DOUBLE_EQ(HighestContentHz(samples, 1.0 / kRateHz, true, 0.01), AliasHz(80.0, kRateHz));
}

// Source: Analog Devices tutorial MT-229, "Quantization noise": |e| <= LSB / 2, rms LSB / sqrt(12),
// SNR = 6.02 N + 1.76 dB for a full-scale sine. The measured figures for 8, 10, 12 and 16 bits come
// from a simulation of our own with another program.
TEST(SignalsReferenceTest, QuantisationNoiseIsThatOfAConverter) {
  struct Case {
    int bits;
    double formula_db;
    double simulated_db;
  };
  for (const Case& c : {Case{8, 49.926, 49.984},
                        Case{10, 61.967, 61.993},
                        Case{12, 74.008, 74.029},
                        Case{16, 98.091, 98.107}}) {
    const VoltageQuantiser quantiser(-1.0, 1.0, c.bits);
    double worst = 0.0;
    double noise = 0.0;
    double signal = 0.0;
    constexpr int kSamples = 200000;
    for (int i = 0; i < kSamples; ++i) {
      // Full scale goes from the middle of the first step to that of the last. The turn is an
      // irrational number, so that no step is favoured.
      const double amplitude = 1.0 - 0.5 * quantiser.step_v();
      const double x =
          amplitude * std::sin(2.0 * std::numbers::pi * std::fmod(i * std::numbers::phi, 1.0));
      const double error = quantiser.Round(x) - x;
      worst = std::max(worst, std::abs(error));
      noise += error * error;
      signal += x * x;
    }
    const double snr_db = 10.0 * std::log10(signal / noise);
    EXPECT_LE(worst, 0.5 * quantiser.step_v() * (1.0 + 1e-9));
    // 0.1 dB: the formula takes the error as even over a step, which is nearly so from 8 bits.
    EXPECT_NEAR(snr_db, c.formula_db, 0.1);
    EXPECT_NEAR(snr_db, c.simulated_db, 0.1);
    EXPECT_NEAR(std::sqrt(noise / kSamples) / quantiser.step_v(), 1.0 / std::sqrt(12.0), 0.004);
  }
}

// Half a step over a range of 300 V; arithmetic.
TEST(SignalsReferenceTest, HalfAStepOf300Volts) {
  EXPECT_DOUBLE_EQ(0.5 * VoltageQuantiser(0.0, 300.0, 8).step_v(), 0.5859375);
  EXPECT_DOUBLE_EQ(0.5 * VoltageQuantiser(0.0, 300.0, 10).step_v(), 0.146484375);
  EXPECT_DOUBLE_EQ(0.5 * VoltageQuantiser(0.0, 300.0, 12).step_v(), 0.03662109375);
  EXPECT_DOUBLE_EQ(0.5 * VoltageQuantiser(0.0, 300.0, 16).step_v(), 0.002288818359375);
}

// A sine of one second as a stream of M samples a period, its amplitude 1 in the figures below.
std::vector<double> StreamOfSine(int samples_per_period) {
  const v1::Robot robot = test::MakeQuadruped();
  // 400 knots: their own error is 1e-6 of the amplitude, far below what is looked for.
  const v1::Gait gait =
      test::MakeSineGait(robot, {.knot_count = 400, .frequency_hz = 1.0, .amplitude_m = 0.001});
  SetpointSource source =
      SetpointSource::Create(
          gait,
          robot,
          {.sample_rate_hz = 1.0 * samples_per_period, .duration_s = 3.0, .ramp_s = 1.0})
          .value();
  const v1::SetpointBlock block = source.NextBlock(10 * samples_per_period);
  std::vector<double> samples;
  for (int i = samples_per_period; i <= 2 * samples_per_period; ++i) {
    samples.push_back(block.leg_position_m(8 * i) / 0.001);
  }
  return samples;
}

struct TableCase {
  int samples_per_period;
  double linear_error_ratio;
  double hold_error_ratio;
  double linear_gain;
  double hold_gain;
};

// Recomputed by a program of our own; formulas beside each.
constexpr TableCase kTable[] = {
    {10, 0.04894348370484636, 0.5877725442107281, 0.9675312092750792, 0.9836316430834661},
    {20, 0.012160291407258605, 0.309002055176001, 0.9918023401109022, 0.9958927352435614},
    {50, 0.001973271571728441, 0.1253176494475567, 0.9986847452380953, 0.9993421562398412},
    {100, 0.0004931961515960426, 0.06277484255437712, 0.999671056476508, 0.9998355147105488},
};

// Worst error of a straight line between samples: 1 - cos(pi / M) <= pi^2 / (2 M^2).
TEST(SignalsReferenceTest, StraightLineErrorIsTheVersineOfHalfAStep) {
  for (const TableCase& c : kTable) {
    const int m = c.samples_per_period;
    const double formula = LinearInterpolationErrorRatio(m);
    // The figure of the table was searched on a grid, which misses up to 2 % of the top.
    EXPECT_NEAR(formula, c.linear_error_ratio, 0.02 * formula);
    EXPECT_LE(formula, std::pow(std::numbers::pi / m, 2) / 2.0);
    const std::vector<double> samples = StreamOfSine(m);
    double linear_error = 0.0;
    double hold_error = 0.0;
    for (int i = 0; i < m; ++i) {
      const auto index = static_cast<std::size_t>(i);
      for (int part = 0; part < 100; ++part) {
        const double share = part / 100.0;
        const double exact = std::sin(2.0 * std::numbers::pi * (i + share) / m);
        const double line = samples[index] + share * (samples[index + 1] - samples[index]);
        linear_error = std::max(linear_error, std::abs(line - exact));
        hold_error = std::max(hold_error, std::abs(samples[index] - exact));
      }
    }
    EXPECT_LE(linear_error, formula * 1.01);
    EXPECT_GE(linear_error, 0.97 * formula);
    // Held samples: error at most 2 sin(pi / M).
    EXPECT_LE(hold_error, 2.0 * std::sin(std::numbers::pi / m));
    EXPECT_NEAR(hold_error, c.hold_error_ratio, 0.02 * c.hold_error_ratio);
  }
}

// Gain of the fundamental: sinc(1 / M) for held samples, its square for straight lines.
TEST(SignalsReferenceTest, GainOfAReconstructedSineIsSincOrItsSquare) {
  for (const TableCase& c : kTable) {
    const int m = c.samples_per_period;
    const std::vector<double> samples = StreamOfSine(m);
    std::complex<double> held = 0.0;
    std::complex<double> linear = 0.0;
    constexpr int kParts = 400;
    for (int i = 0; i < m; ++i) {
      const auto index = static_cast<std::size_t>(i);
      for (int part = 0; part < kParts; ++part) {
        const double share = (part + 0.5) / kParts;
        const std::complex<double> turn =
            std::polar(1.0, -2.0 * std::numbers::pi * (i + share) / m);
        held += samples[index] * turn;
        linear += (samples[index] + share * (samples[index + 1] - samples[index])) * turn;
      }
    }
    const double scale = 2.0 / (m * kParts);
    // 1e-5: the trajectory's own knots and the sum over parts.
    EXPECT_NEAR(std::abs(held) * scale, c.hold_gain, 1e-5);
    EXPECT_NEAR(std::abs(linear) * scale, c.linear_gain, 1e-5);
  }
}

}  // namespace
}  // namespace gaitshelf::service
