#include "service/api/status.h"

#include <cstddef>
#include <string>

#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"

namespace gaitshelf::service {
namespace {

constexpr char kTypePrefix[] = "type.googleapis.com/";
constexpr char kDomain[] = "gaitshelf";
// Together with base64 (4/3) and percent encoding they stay below the 8 kB of a client's default.
constexpr std::size_t kMostDetailBytes = 3000;
constexpr std::size_t kMostMessageBytes = 1500;
// Of one fault, and of any message as it is sent.
constexpr std::size_t kMostFaultBytes = 800;
constexpr std::size_t kMostSentBytes = 3500;

void SetPayload(const google::protobuf::Message& detail, absl::Status* status) {
  status->SetPayload(absl::StrCat(kTypePrefix, detail.GetDescriptor()->full_name()),
                     absl::Cord(detail.SerializeAsString()));
}

// Returns as much of a text as takes this many bytes on the wire: gRPC percent-encodes all but
// printable ASCII in messages. A request may hold a megabyte, and errors repeat what it holds.
std::string Shortened(absl::string_view text, std::size_t most) {
  std::size_t sent = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    sent += text[i] >= ' ' && text[i] <= '~' && text[i] != '%' ? 1U : 3U;
    if (sent > most) {
      while (i > 0 && (static_cast<unsigned char>(text[i]) & 0xC0U) == 0x80) {
        --i;  // not inside a character
      }
      return absl::StrCat(text.substr(0, i), "...");
    }
  }
  return std::string(text);
}

std::string DescriptionOf(const v1::FieldViolation& violation) {
  return absl::StrCat("is ", violation.value(), "; ", violation.problem(), "; ", violation.mend());
}

}  // namespace

absl::Status InvalidRequest(const std::vector<v1::FieldViolation>& violations) {
  google::rpc::BadRequest detail;
  std::string message;
  std::size_t named = 0;
  for (const v1::FieldViolation& violation : violations) {
    const std::string field = Shortened(violation.field(), kMostFaultBytes);
    const std::string description = Shortened(DescriptionOf(violation), kMostFaultBytes);
    const std::size_t size = field.size() + description.size() + 8;
    if (named > 0 && (detail.ByteSizeLong() + size > kMostDetailBytes ||
                      message.size() + size > kMostMessageBytes)) {
      break;
    }
    google::rpc::BadRequest::FieldViolation* out = detail.add_field_violations();
    out->set_field(field);
    out->set_description(description);
    absl::StrAppend(&message, named > 0 ? "\n" : "", field, " ", description);
    ++named;
  }
  if (named < violations.size()) {
    const std::string rest = absl::StrCat(
        "and ", violations.size() - named, " more; ModelService checks a description in full");
    google::rpc::BadRequest::FieldViolation* out = detail.add_field_violations();
    out->set_field(Shortened(violations[named].field(), kMostFaultBytes));
    out->set_description(rest);
    absl::StrAppend(&message, "\n", rest);
  }
  absl::Status status = absl::InvalidArgumentError(message);
  SetPayload(detail, &status);
  return status;
}

absl::Status MissingField(absl::string_view field, absl::string_view mend) {
  v1::FieldViolation violation;
  violation.set_field(std::string(field));
  violation.set_value("missing");
  violation.set_problem("is required");
  violation.set_mend(std::string(mend));
  return InvalidRequest({violation});
}

absl::Status WithReason(absl::Status status, absl::string_view reason) {
  if (status.ok()) {
    return status;
  }
  google::rpc::ErrorInfo detail;
  detail.set_reason(std::string(reason));
  detail.set_domain(kDomain);
  SetPayload(detail, &status);
  return status;
}

grpc::Status ToGrpc(const absl::Status& status) {
  if (status.ok()) {
    return grpc::Status::OK;
  }
  // Its message stays empty: the same text stands beside it, and twice is too much for a header.
  google::rpc::Status details;
  details.set_code(status.raw_code());
  status.ForEachPayload([&details](absl::string_view type_url, const absl::Cord& payload) {
    google::protobuf::Any* detail = details.add_details();
    detail->set_type_url(std::string(type_url));
    detail->set_value(std::string(payload));
  });
  return grpc::Status(static_cast<grpc::StatusCode>(status.raw_code()),
                      Shortened(status.message(), kMostSentBytes),
                      details.details().empty() ? std::string() : details.SerializeAsString());
}

}  // namespace gaitshelf::service
