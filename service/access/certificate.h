// Reads certificates and keys in PEM, as far as the server must know them itself; handshakes are
// gRPC's.
#ifndef GAITSHELF_SERVICE_ACCESS_CERTIFICATE_H_
#define GAITSHELF_SERVICE_ACCESS_CERTIFICATE_H_

#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/time/time.h"

namespace gaitshelf::service {

struct CertificateFacts {
  std::string fingerprint;  // SHA-256 of the whole certificate, lower case hexadecimal
  absl::Time begin;         // when it begins to hold
  absl::Time end;           // and ends
};

// Reads the first certificate of a text.
//
// Errors:
//   kInvalidArgument   there is none
absl::StatusOr<CertificateFacts> ReadCertificate(const std::string& pem);

// Files of a folder that a TLS server needs.
struct TlsFiles {
  std::string certificate;  // server.pem, with the chain up to the CA
  std::string key;          // server.key
  std::string authority;    // ca.pem: whoever it has issued a certificate may knock
  std::string members;      // members: see member_list.h
};

TlsFiles FilesOf(const std::string& folder);

// Checks certificate, key and authority before anything listens; handshakes would only fail later.
//
// Errors:
//   kFailedPrecondition   files that cannot be read, a key that is another's or that others may
//                         read, a certificate that the authority has not issued, or that does not
//                         hold now; every fault, a line each
absl::Status CheckTlsFiles(const TlsFiles& files, absl::Time now);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_CERTIFICATE_H_
