#include "tests/bench/json.h"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <thread>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace gaitshelf::bench {
namespace {

std::string ProcessorName() {
  std::ifstream file("/proc/cpuinfo");
  std::string line;
  while (std::getline(file, line)) {
    if (line.rfind("model name", 0) == 0 && line.find(": ") != std::string::npos) {
      return line.substr(line.find(": ") + 2);
    }
  }
  return "unknown";
}

}  // namespace

Json& Json::Set(const std::string& name, Json value) {
  members_.emplace_back(name, std::move(value));
  return *this;
}

Json& Json::Add(Json value) { return Set("", std::move(value)); }

std::string Json::NumberText(double value) {
  // Nine digits keep counts whole and are more than any clock gives.
  return std::isfinite(value) ? absl::StrFormat("%.9g", value) : "null";
}

std::string Json::Quoted(const std::string& text) {
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') {
      quoted += '\\';
      quoted += c;
    } else if (static_cast<unsigned char>(c) < 0x20) {
      absl::StrAppendFormat(&quoted, "\\u%04x", static_cast<int>(c));
    } else {
      quoted += c;
    }
  }
  return quoted + "\"";
}

std::string Json::Text(int depth) const {
  if (kind_ == kScalar) {
    return scalar_;
  }
  const std::string indent(2 * static_cast<std::size_t>(depth) + 2, ' ');
  std::string text = kind_ == kObject ? "{" : "[";
  for (std::size_t i = 0; i < members_.size(); ++i) {
    absl::StrAppend(&text,
                    i == 0 ? "\n" : ",\n",
                    indent,
                    kind_ == kObject ? Quoted(members_[i].first) + ": " : "",
                    members_[i].second.Text(depth + 1));
  }
  if (!members_.empty()) {
    absl::StrAppend(&text, "\n", indent.substr(2));
  }
  return text + (kind_ == kObject ? "}" : "]");
}

int WriteJson(Json report, const std::string& program, const std::string& path) {
  if (path.empty()) {
    return 0;
  }
  report.Set("machine",
             Json::Object()
                 .Set("processor", ProcessorName())
                 .Set("cores", std::thread::hardware_concurrency())
                 .Set("compiler", __VERSION__));
  std::ofstream file(path);
  file << report.Text() << "\n";
  file.close();
  if (!file) {
    std::fprintf(stderr, "%s: cannot write --json %s\n", program.c_str(), path.c_str());
    return 1;
  }
  return 0;
}

}  // namespace gaitshelf::bench
