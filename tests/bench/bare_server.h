// The rival of GetGait: a server with the same call of the same API that has the answer ready in
// memory and looks at nothing. What a library, members and metrics cost is the distance to it.
#ifndef GAITSHELF_TESTS_BENCH_BARE_SERVER_H_
#define GAITSHELF_TESTS_BENCH_BARE_SERVER_H_

#include <string>
#include <vector>

namespace gaitshelf::bench {

// Serves the bytes of a file at addresses until SIGTERM; returns what main returns.
int ServeBytes(const std::string& file, const std::vector<std::string>& addresses);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_BARE_SERVER_H_
