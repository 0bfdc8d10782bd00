#include "solver/leg/chebyshev_table.h"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "solver/base/constants.h"
#include "solver/base/wide_clones.h"

namespace gaitshelf::solver {
namespace {

constexpr auto kNodes = static_cast<size_t>(ChebyshevFit::kNodeCount);

// The polynomials hold a little beyond -1 to 1, since a leg in its stops goes there. From here on
// they go on as the parabola that fits them in value, slope and curvature: they themselves would
// soon run off and take the inertia's sign with them.
constexpr double kPolynomialEnd = 1.15;

// T_i at node k.
double NodePolynomial(size_t i, size_t k) {
  return std::cos(static_cast<double>(i) * kPi * (static_cast<double>(k) + 0.5) /
                  static_cast<double>(kNodes));
}

// What a value at node k counts in the coefficient of T_i.
double NodeWeight(size_t i, size_t k) {
  return (i == 0 ? 1.0 : 2.0) / static_cast<double>(kNodes) * NodePolynomial(i, k);
}

void AddTimes(double weight, const LegValues& values, LegValues* sum) {
  for (size_t f = 0; f < values.size(); ++f) {
    (*sum)[f] += weight * values[f];
  }
}

// Sets the entries of least size to 0, as many as together stay within what may be lost.
void LeaveOutLeast(double may_lose, std::vector<double>* entries) {
  std::vector<double> sizes;
  for (const double entry : *entries) {
    sizes.push_back(std::abs(entry));
  }
  std::sort(sizes.begin(), sizes.end());
  double lost = 0.0;
  double least_kept = 0.0;
  for (const double size : sizes) {
    lost += size;
    least_kept = size;
    if (lost > may_lose) {
      break;
    }
  }
  for (double& entry : *entries) {
    entry = std::abs(entry) < least_kept ? 0.0 : entry;
  }
}

}  // namespace

double ChebyshevFit::Node(int k) { return std::cos(kPi * (k + 0.5) / kNodeCount); }

// Discrete cosine sums, one variable after the other.
ChebyshevFit::ChebyshevFit(const std::vector<LegValues>& values)
    : coefficients_(kNodes * kNodes, LegValues{}) {
  std::vector<LegValues> half(kNodes * kNodes, LegValues{});
  for (size_t i = 0; i < kNodes; ++i) {
    for (size_t k = 0; k < kNodes; ++k) {
      const double weight = NodeWeight(i, k);
      for (size_t l = 0; l < kNodes; ++l) {
        AddTimes(weight, values[k * kNodes + l], &half[i * kNodes + l]);
      }
    }
  }
  for (size_t j = 0; j < kNodes; ++j) {
    for (size_t l = 0; l < kNodes; ++l) {
      const double weight = NodeWeight(j, l);
      for (size_t i = 0; i < kNodes; ++i) {
        AddTimes(weight, half[i * kNodes + l], &coefficients_[i * kNodes + j]);
      }
    }
  }
}

std::vector<double> ChebyshevFit::Coefficients(int degree, const LegValues& may_lose) const {
  std::vector<double> all;
  for (size_t f = 0; f < LegFunction::kCount; ++f) {
    std::vector<double> own;
    for (int i = 0; i <= degree; ++i) {
      for (int j = 0; j <= degree; ++j) {
        own.push_back(coefficient(i, j)[f]);
      }
    }
    LeaveOutLeast(may_lose[f], &own);
    all.insert(all.end(), own.begin(), own.end());
  }
  return all;
}

LegValues ChebyshevFit::Tail(int degree) const {
  LegValues tail{};
  for (int i = 0; i < kNodeCount; ++i) {
    for (int j = 0; j < kNodeCount; ++j) {
      if (std::max(i, j) <= degree) {
        continue;
      }
      const LegValues& c = coefficient(i, j);
      for (size_t f = 0; f < c.size(); ++f) {
        tail[f] += std::abs(c[f]);
      }
    }
  }
  return tail;
}

// Polynomials of one variable with their derivatives.
struct ChebyshevTable::Basis {
  std::array<std::array<double, kMostDegree + 1>, 3> order;

  // Fills orders up to the degree, and no more is read: this is in the inner loop of every leg.
  // NOLINTNEXTLINE(cppcoreguidelines-pro-type-member-init)
  Basis(double argument, double rate, int degree) {
    const double t = std::clamp(argument, -kPolynomialEnd, kPolynomialEnd);
    const double beyond = argument - t;
    std::array<double, 3> before = {1.0, 0.0, 0.0};
    std::array<double, 3> at = {t, 1.0, 0.0};
    for (int k = 0; k <= degree; ++k) {
      const auto i = static_cast<size_t>(k);
      const double value = before[0] + beyond * (before[1] + 0.5 * beyond * before[2]);
      const double first = (before[1] + beyond * before[2]) * rate;
      const double second = before[2] * rate * rate;
      order[0][i] = value;
      order[1][i] = first;
      order[2][i] = second;
      const std::array<double, 3> next = {2.0 * t * at[0] - before[0],
                                          2.0 * at[0] + 2.0 * t * at[1] - before[1],
                                          4.0 * at[1] + 2.0 * t * at[2] - before[2]};
      before = at;
      at = next;
    }
  }
};

ChebyshevTable::ChebyshevTable(absl::Span<const double> coefficients,
                               const LegValues& units,
                               int degree)
    : degree_(degree) {
  const auto square = static_cast<size_t>((degree_ + 1) * (degree_ + 1));
  for (size_t b = 0; b < kBlockCount; ++b) {
    for (size_t at = 0; at < square; ++at) {
      const auto entry = [&](size_t k) {
        const size_t f = b * kBlockSize + k;
        return f < LegFunction::kCount ? coefficients[f * square + at] / units[f] : 0.0;
      };
      for (size_t k = 0; k < kBlockSize; ++k) {
        coefficients_.push_back(entry(k));
      }
    }
  }
  FindSizes();
}

void ChebyshevTable::FindSizes() {
  const auto count = static_cast<size_t>(degree_ + 1);
  row_sizes_.assign(kBlockCount * count, 0);
  for (size_t at = 0; at < coefficients_.size(); ++at) {
    if (coefficients_[at] != 0.0) {
      const size_t row = at / (kBlockSize * count);
      row_sizes_[row] = static_cast<std::uint8_t>(at / kBlockSize % count + 1);
      row_counts_[row / count] = static_cast<std::uint8_t>(row % count + 1);
    }
  }
}

ChebyshevTable::Block ChebyshevTable::BlockAt(int number) const {
  const auto count = static_cast<size_t>(degree_ + 1);
  const auto block = static_cast<size_t>(number);
  return {.coefficients = &coefficients_[block * count * count * kBlockSize],
          .stride = count,
          .row_count = row_counts_[block],
          .sizes = &row_sizes_[block * count]};
}

void ChebyshevTable::Evaluate(const Eigen::Vector2d& t,
                              const Eigen::Vector2d& rate,
                              DerivativeOrder order,
                              LegEvaluation* evaluation) const {
  EvaluateBlocks(t, rate, order, 0, kBlockCount, evaluation);
}

void ChebyshevTable::EvaluateFootAndTravel(const Eigen::Vector2d& t,
                                           const Eigen::Vector2d& rate,
                                           DerivativeOrder order,
                                           LegEvaluation* evaluation) const {
  constexpr int kFirst = LegFunction::kFoot / kBlockSize;
  constexpr int kLast = (LegFunction::kTravel + 1) / kBlockSize;
  EvaluateBlocks(t, rate, order, kFirst, kLast + 1, evaluation);
}

// Sums over the second variable, then over the first. A register's sum has to wait for itself, so
// that several rows at once take little longer than one. Inlined, so that it is compiled for each
// machine with its caller.
template <size_t kOrders, size_t kRows>
[[gnu::always_inline]] inline void ChebyshevTable::SumRows(const Block& block,
                                                           const Basis& x,
                                                           const Basis& y,
                                                           size_t i,
                                                           Lane* sum) {
  Lane inner[kRows][kOrders] = {};  // no std::array: it would drop the alignment
  size_t size = 0;
  for (size_t row = 0; row < kRows; ++row) {
    size = std::max<size_t>(size, block.sizes[i + row]);
  }
  for (size_t j = 0; j < size; ++j) {
    for (size_t row = 0; row < kRows; ++row) {
      Lane entry;
      std::memcpy(
          &entry, block.coefficients + ((i + row) * block.stride + j) * kBlockSize, sizeof(entry));
      for (size_t k = 0; k < kOrders; ++k) {
        inner[row][k] += entry * y.order[k][j];
      }
    }
  }
  for (size_t row = 0; row < kRows; ++row) {
    sum[0] += inner[row][0] * x.order[0][i + row];
    sum[1] += inner[row][0] * x.order[1][i + row];
    sum[2] += inner[row][1] * x.order[0][i + row];
    if constexpr (kOrders == 3) {
      sum[3] += inner[row][0] * x.order[2][i + row];
      sum[4] += inner[row][2] * x.order[0][i + row];
      sum[5] += inner[row][1] * x.order[1][i + row];
    }
  }
}

template <size_t kOrders>
[[gnu::always_inline]] inline void ChebyshevTable::SumBlock(const Block& block,
                                                            const Basis& x,
                                                            const Basis& y,
                                                            Lane* sum) {
  // As many sums as the registers hold; what is left over, two by two.
  constexpr size_t kMost = kOrders == 3 ? 2 : 4;
  size_t i = 0;
  for (; i + kMost <= block.row_count; i += kMost) {
    SumRows<kOrders, kMost>(block, x, y, i, sum);
  }
  for (; i + 2 <= block.row_count; i += 2) {
    SumRows<kOrders, 2>(block, x, y, i, sum);
  }
  if (i < block.row_count) {
    SumRows<kOrders, 1>(block, x, y, i, sum);
  }
}

GAITSHELF_WIDE_CLONES
void ChebyshevTable::EvaluateBlocks(const Eigen::Vector2d& t,
                                    const Eigen::Vector2d& rate,
                                    DerivativeOrder derivatives,
                                    int first_block,
                                    int end_block,
                                    LegEvaluation* evaluation) const {
  const Basis x(t[0], rate[0], degree_);
  const Basis y(t[1], rate[1], degree_);
  const std::array<LegValues*, 6> outputs = {&evaluation->value,
                                             &evaluation->first[0],
                                             &evaluation->first[1],
                                             &evaluation->second[0],
                                             &evaluation->second[1],
                                             &evaluation->second[2]};
  for (int block = first_block; block < end_block; ++block) {
    Lane sum[6] = {};
    if (derivatives == DerivativeOrder::kSecond) {
      SumBlock<3>(BlockAt(block), x, y, sum);
    } else {
      SumBlock<2>(BlockAt(block), x, y, sum);
    }
    const auto first = static_cast<size_t>(block * kBlockSize);
    const size_t end = std::min(first + kBlockSize, static_cast<size_t>(LegFunction::kCount));
    for (size_t k = 0; k < outputs.size(); ++k) {
      for (size_t f = first; f < end; ++f) {
        (*outputs[k])[f] = sum[k][f - first];
      }
    }
  }
}

}  // namespace gaitshelf::solver
