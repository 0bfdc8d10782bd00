#include "service/library/postgres_connection.h"

#include <bit>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/strip.h"
#include "service/library/postgres_dialect.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Numbers of PostgreSQL's own types, fixed in its catalogue (pg_type.dat).
constexpr Oid kBool = 16;
constexpr Oid kByteA = 17;
constexpr Oid kInt8 = 20;
constexpr Oid kInt2 = 21;
constexpr Oid kInt4 = 23;
constexpr Oid kText = 25;
constexpr Oid kFloat8 = 701;

constexpr int kBinary = 1;

// The wire's order of bytes: the highest first.
std::string ToWire(std::uint64_t bits) {
  std::string bytes(8, '\0');
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    bytes[i] = static_cast<char>(bits >> (56 - 8 * i));
  }
  return bytes;
}

std::uint64_t FromWire(const char* bytes, int size) {
  std::uint64_t bits = 0;
  for (int i = 0; i < size; ++i) {
    bits = bits << 8 | static_cast<unsigned char>(bytes[i]);
  }
  return bits;
}

// Classes and codes of SQLSTATE, from the table in PostgreSQL's manual (appendix A).
bool IsLoss(absl::string_view state) {
  // 57P05: it gave up a transaction that stood idle, perhaps because its clock was set.
  return absl::StartsWith(state, "08") || state == "57P01" || state == "57P02" ||
         state == "57P03" || state == "57P05";
}

constexpr char kDiskFull[] = "53100";

bool IsClash(absl::string_view state) { return state == "40001" || state == "40P01"; }

absl::StatusCode CodeOf(absl::string_view state) {
  if (IsLoss(state) || IsClash(state) || state == "55P03" || state == "53300") {
    return absl::StatusCode::kUnavailable;
  }
  if (state == kDiskFull || state == "53200") {
    return absl::StatusCode::kResourceExhausted;
  }
  if (state == "XX001" || state == "XX002") {
    return absl::StatusCode::kDataLoss;
  }
  if (state == "42501" || absl::StartsWith(state, "28") || state == "25006") {
    return absl::StatusCode::kPermissionDenied;
  }
  if (state == "3D000") {
    return absl::StatusCode::kFailedPrecondition;
  }
  if (state == "22021" || state == "22P05") {
    return absl::StatusCode::kInvalidArgument;
  }
  return absl::StatusCode::kInternal;
}

const char* PostgresMendFor(absl::StatusCode code) {
  switch (code) {
    case absl::StatusCode::kUnavailable:
      return "; the database is out of reach or busy: ask again";
    case absl::StatusCode::kResourceExhausted:
      return "; the disk or the memory of the database's machine is full: make room there and ask "
             "again";
    case absl::StatusCode::kDataLoss:
      return "; the database is damaged: keep it as it is and go back to a backup";
    case absl::StatusCode::kPermissionDenied:
      return "; let the user read and write the database";
    case absl::StatusCode::kFailedPrecondition:
      return "; make the database first, or name another one";
    default:
      return "";
  }
}

struct ConnectionInfoFree {
  void operator()(PQconninfoOption* options) const { PQconninfoFree(options); }
};

// A failed connection has words but no SQLSTATE.
absl::StatusCode CodeOfRefusal(const std::string& words) {
  if (absl::StrContains(words, "does not exist")) {
    return absl::StrContains(words, "database \"") ? absl::StatusCode::kFailedPrecondition
                                                   : absl::StatusCode::kPermissionDenied;
  }
  if (absl::StrContains(words, "authentication failed") || absl::StrContains(words, "pg_hba") ||
      absl::StrContains(words, "no password supplied")) {
    return absl::StatusCode::kPermissionDenied;
  }
  return absl::StatusCode::kUnavailable;
}

}  // namespace

absl::Status CheckPostgresAddress(const std::string& address) {
  char* error = nullptr;
  const std::unique_ptr<PQconninfoOption, ConnectionInfoFree> options(
      PQconninfoParse(address.c_str(), &error));
  if (options == nullptr) {
    const std::string words(absl::StripSuffix(error == nullptr ? "" : error, "\n"));
    PQfreemem(error);
    return absl::InvalidArgumentError(absl::StrCat(
        "library is an address that cannot be read: ",
        words,
        "; write postgresql://USER@HOST/DATABASE, or postgresql:///DATABASE?host=FOLDER for the "
        "Unix socket in a folder"));
  }
  for (const PQconninfoOption* option = options.get(); option->keyword != nullptr; ++option) {
    if (std::string(option->keyword) == "password" && option->val != nullptr) {
      return absl::InvalidArgumentError(
          "library is an address with a password in it, which everybody on this machine could "
          "see; leave it out and put it into the file that PGPASSFILE names");
    }
  }
  return absl::OkStatus();
}

void PostgresStatement::BindInteger(std::int64_t value) {
  types_.push_back(kInt8);
  values_.push_back(ToWire(static_cast<std::uint64_t>(value)));
}

void PostgresStatement::BindReal(double value) {
  types_.push_back(kFloat8);
  values_.push_back(ToWire(std::bit_cast<std::uint64_t>(value)));
}

void PostgresStatement::BindText(absl::string_view value) {
  types_.push_back(kText);
  values_.emplace_back(value);
}

void PostgresStatement::BindBytes(absl::string_view value) {
  types_.push_back(kByteA);
  values_.emplace_back(value);
}

absl::Status PostgresStatement::Execute() {
  GAITSHELF_ASSIGN_OR_RETURN(const std::string name, connection_->PreparedName(sql_, types_));
  std::vector<const char*> values;
  std::vector<int> sizes;
  for (const std::string& value : values_) {
    values.push_back(value.data());
    sizes.push_back(static_cast<int>(value.size()));
  }
  const std::vector<int> formats(values.size(), kBinary);
  result_.reset(PQexecPrepared(connection_->handle(),
                               name.c_str(),
                               static_cast<int>(values.size()),
                               values.data(),
                               sizes.data(),
                               formats.data(),
                               kBinary));
  const ExecStatusType status = PQresultStatus(result_.get());
  return status == PGRES_TUPLES_OK || status == PGRES_COMMAND_OK
             ? absl::OkStatus()
             : connection_->MakeStatus(result_.get());
}

absl::StatusOr<bool> PostgresStatement::Step() {
  if (result_ == nullptr) {
    GAITSHELF_RETURN_IF_ERROR(Execute());
  }
  ++row_;
  return row_ < PQntuples(result_.get());
}

absl::StatusOr<int> PostgresStatement::Run() {
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, Step());
  if (has_row) {
    return absl::InternalError("a statement gave a row where none was due");
  }
  return std::atoi(PQcmdTuples(result_.get()));
}

std::int64_t PostgresStatement::Integer(int column) const {
  const std::uint64_t bits =
      FromWire(PQgetvalue(result_.get(), row_, column), PQgetlength(result_.get(), row_, column));
  switch (PQftype(result_.get(), column)) {
    case kInt4:
      return static_cast<std::int32_t>(bits);
    case kInt2:
      return static_cast<std::int16_t>(bits);
    case kBool:
    case kInt8:
    default:
      return static_cast<std::int64_t>(bits);
  }
}

double PostgresStatement::Real(int column) const {
  return std::bit_cast<double>(FromWire(PQgetvalue(result_.get(), row_, column), 8));
}

std::string PostgresStatement::Bytes(int column) const {
  return {PQgetvalue(result_.get(), row_, column),
          static_cast<std::size_t>(PQgetlength(result_.get(), row_, column))};
}

bool PostgresStatement::IsNull(int column) const {
  return PQgetisnull(result_.get(), row_, column) != 0;
}

PostgresConnection::PostgresConnection(PGconn* handle) : handle_(handle) {
  const char* host = PQhost(handle_);
  const char* database = PQdb(handle_);
  place_ = absl::StrCat(
      database == nullptr ? "" : database, " at ", host == nullptr || *host == '\0' ? "?" : host);
}

PostgresConnection::~PostgresConnection() { PQfinish(handle_); }

absl::StatusOr<std::unique_ptr<PostgresConnection>> PostgresConnection::Open(
    const std::string& address,
    int lock_timeout_ms) {
  // What the address says itself comes later and counts. A network that swallows everything is
  // noticed after about 10 s, also by a connection that only listens.
  const char* const keywords[] = {"application_name",
                                  "connect_timeout",
                                  "tcp_user_timeout",
                                  "keepalives_idle",
                                  "keepalives_interval",
                                  "keepalives_count",
                                  "dbname",
                                  "client_encoding",
                                  nullptr};
  const char* const values[] = {
      "gaitshelf", "3", "10000", "4", "2", "3", address.c_str(), "UTF8", nullptr};
  PGconn* const handle = PQconnectdbParams(keywords, values, /*expand_dbname=*/1);
  if (handle == nullptr) {
    return absl::ResourceExhaustedError("no memory for a connection to the library");
  }
  std::unique_ptr<PostgresConnection> connection(new PostgresConnection(handle));
  if (PQstatus(handle) != CONNECTION_OK) {
    const std::string words(absl::StripSuffix(PQerrorMessage(handle), "\n"));
    const absl::StatusCode code = CodeOfRefusal(words);
    return absl::Status(
        code, absl::StrCat("library ", connection->place(), ": ", words, PostgresMendFor(code)));
  }
  // Notices ("table is there already") are for people at a terminal.
  PQsetNoticeProcessor(
      handle, [](void* /*argument*/, const char* /*notice*/) {}, nullptr);
  GAITSHELF_RETURN_IF_ERROR(
      connection->Execute(absl::StrCat("SET synchronous_commit = on; SET lock_timeout = ",
                                       lock_timeout_ms,
                                       "; SET idle_in_transaction_session_timeout = '60s'; "
                                       "SET default_transaction_isolation = 'read committed'")));
  return connection;
}

absl::StatusOr<SqlStatement> PostgresConnection::Prepare(const std::string& sql) {
  return SqlStatement(std::make_unique<PostgresStatement>(this, ToPostgresStatement(sql)));
}

absl::StatusOr<std::string> PostgresConnection::PreparedName(const std::string& sql,
                                                             const std::vector<Oid>& types) {
  std::string key = sql;
  for (const Oid type : types) {
    absl::StrAppend(&key, " ", type);
  }
  const auto found = prepared_.find(key);
  if (found != prepared_.end()) {
    return found->second;
  }
  std::string name = absl::StrCat("s", prepared_.size());
  const PostgresResult result(
      PQprepare(handle_, name.c_str(), sql.c_str(), static_cast<int>(types.size()), types.data()));
  if (PQresultStatus(result.get()) != PGRES_COMMAND_OK) {
    return MakeStatus(result.get());
  }
  prepared_.emplace(std::move(key), name);
  return name;
}

absl::Status PostgresConnection::Execute(const std::string& sql) {
  const PostgresResult result(PQexec(handle_, sql.c_str()));
  const ExecStatusType status = PQresultStatus(result.get());
  return status == PGRES_TUPLES_OK || status == PGRES_COMMAND_OK ? absl::OkStatus()
                                                                 : MakeStatus(result.get());
}

absl::Status PostgresConnection::Commit() {
  const PostgresResult result(PQexec(handle_, "COMMIT"));
  if (PQresultStatus(result.get()) != PGRES_COMMAND_OK) {
    return MakeStatus(result.get());
  }
  // PostgreSQL answers a COMMIT of a transaction that has failed with "ROLLBACK", not an error.
  return std::string(PQcmdStatus(result.get())) == "COMMIT"
             ? absl::OkStatus()
             : absl::InternalError("a failed transaction was to be stored");
}

absl::Status PostgresConnection::Announce(const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement notify, Prepare("SELECT pg_notify(?1, ?2)"));
  return notify.BindText(kNewsChannel).BindText(name).Step().status();
}

absl::Status PostgresConnection::MakeStatus(const PGresult* result) {
  const char* field = result == nullptr ? nullptr : PQresultErrorField(result, PG_DIAG_SQLSTATE);
  const std::string state = field == nullptr ? "" : field;
  is_lost_ = PQstatus(handle_) != CONNECTION_OK || IsLoss(state);
  is_clash_ = IsClash(state);
  found_no_room_ = found_no_room_ || state == kDiskFull;
  const absl::StatusCode code = is_lost_ ? absl::StatusCode::kUnavailable : CodeOf(state);
  const char* primary =
      result == nullptr ? nullptr : PQresultErrorField(result, PG_DIAG_MESSAGE_PRIMARY);
  const std::string words = primary == nullptr ? PQerrorMessage(handle_) : primary;
  return {code,
          absl::StrCat(
              "library ", place_, ": ", absl::StripSuffix(words, "\n"), PostgresMendFor(code))};
}

}  // namespace gaitshelf::service
