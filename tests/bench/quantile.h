// A quantile of what was measured.
#ifndef GAITSHELF_TESTS_BENCH_QUANTILE_H_
#define GAITSHELF_TESTS_BENCH_QUANTILE_H_

#include <algorithm>
#include <cstddef>
#include <vector>

namespace gaitshelf::bench {

// The value that the share, 0 to 1, of the values does not exceed; 0 of none.
inline double Quantile(std::vector<double> values, double share) {
  if (values.empty()) {
    return 0.0;
  }
  const auto place = static_cast<std::size_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(
      values.begin(), values.begin() + static_cast<std::ptrdiff_t>(place), values.end());
  return values[place];
}

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_QUANTILE_H_
