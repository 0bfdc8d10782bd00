#include "service/library/sql_changes.h"

#include <cstddef>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {

absl::Status AddChange(SqlConnection* connection, const ChangeLine& change) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare("INSERT INTO changes (time_us, requester, kind, subject, detail) "
                          "VALUES (?1, ?2, ?3, ?4, ?5)"));
  insert.BindInteger(NowUs()).BindText(change.requester).BindInteger(change.kind);
  return insert.BindText(change.subject).BindText(change.detail).Run().status();
}

absl::StatusOr<ChangePage> SqlStore::ListChanges(const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  return Read([&](SqlConnection* connection) -> absl::StatusOr<ChangePage> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare("SELECT id, time_us, requester, kind, subject, detail FROM changes "
                            "WHERE id < ?1 ORDER BY id DESC LIMIT ?2"));
    // One more than asked for tells whether there is a next page.
    query.BindInteger(bounds.below_id).BindInteger(bounds.size + 1);
    ChangePage result;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      if (static_cast<std::int64_t>(result.changes.size()) == bounds.size) {
        result.next_page_token = absl::StrCat(result.changes.back().number());
        break;
      }
      v1::Change& change = result.changes.emplace_back();
      change.set_number(query.Integer(0));
      *change.mutable_time() = TimestampOf(query.Integer(1));
      change.set_requester(query.Bytes(2));
      change.set_kind(static_cast<v1::ChangeKind>(query.Integer(3)));
      change.set_subject(query.Bytes(4));
      change.set_detail(query.Bytes(5));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return result;
  });
}

}  // namespace gaitshelf::service
