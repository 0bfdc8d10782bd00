// The names of the demonstration's robots.
#ifndef GAITSHELF_TESTS_BENCH_DEMO_ROBOTS_H_
#define GAITSHELF_TESTS_BENCH_DEMO_ROBOTS_H_

namespace gaitshelf::bench {

// Drawn orders depend on their order.
inline constexpr const char* kDemoRobots[] = {"weevil", "weevil-lumped", "earwig"};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_DEMO_ROBOTS_H_
