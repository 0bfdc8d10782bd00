// A Slurm cluster for a test program, started by deploy/slurm/private-cluster.
#ifndef GAITSHELF_TESTS_SUPPORT_SLURM_CLUSTER_H_
#define GAITSHELF_TESTS_SUPPORT_SLURM_CLUSTER_H_

#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <string>

#include <sys/types.h>

#include "tests/support/paths.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::test {

class SlurmCluster {
 public:
  // Slurm's commands of this process and of those that it starts go to the cluster from now on.
  SlurmCluster() {
    is_up_ = Run(Script("start"));
    setenv("SLURM_CONF", folder_.File("slurm.conf").c_str(), 1);
  }
  SlurmCluster(const SlurmCluster&) = delete;
  SlurmCluster& operator=(const SlurmCluster&) = delete;
  ~SlurmCluster() { Run(Script("stop")); }

  [[nodiscard]] bool is_up() const { return is_up_; }
  // Kills the daemon of a node, n1 or n2, as a crash of the machine would, and tells the controller
  // so as not to wait for it to notice. What the node ran lives on.
  [[nodiscard]] bool KillNode(const std::string& node) const {
    pid_t daemon = 0;
    std::ifstream(folder_.File("run/slurmd." + node + ".pid")) >> daemon;
    return daemon > 1 && kill(daemon, SIGKILL) == 0 &&
           Run("scontrol update nodename=" + node + " state=down reason=killed");
  }
  // What a command prints, without the end of the line.
  static std::string Output(const std::string& command) {
    std::string text;
    FILE* const output = popen(command.c_str(), "r");
    for (int letter = getc(output); letter != EOF; letter = getc(output)) {
      text.push_back(static_cast<char>(letter));
    }
    pclose(output);
    while (!text.empty() && text.back() == '\n') {
      text.pop_back();
    }
    return text;
  }
  static bool Run(const std::string& command) { return std::system(command.c_str()) == 0; }

 private:
  [[nodiscard]] std::string Script(const std::string& command) const {
    return SourcePath("deploy/slurm/private-cluster ") + command + " " + folder_.path() +
           " > /dev/null";
  }

  TemporaryFolder folder_;
  bool is_up_ = false;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_SLURM_CLUSTER_H_
