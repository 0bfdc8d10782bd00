// Room on the disk: how much is left, and what to say when there is none.
#ifndef GAITSHELF_SERVICE_LIBRARY_ROOM_H_
#define GAITSHELF_SERVICE_LIBRARY_ROOM_H_

#include <cstdint>
#include <optional>
#include <string>

namespace gaitshelf::service {

// Folder that a file is in.
std::string FolderOf(const std::string& path);

// Tells whether an errno says that there is no room: the disk is full, or a quota or a limit of the
// size of files is met.
bool IsNoRoom(int system_error);

// Bytes that this user may still write to the disk of a folder; absent when it cannot be looked at.
std::optional<std::int64_t> FreeBytes(const std::string& folder);

// Says how full the disk of a folder is and what to do about it, to whoever found no room there:
// "the disk of /srv/gaits has 0.2 MB left: make room there and ask again".
std::string FullDiskMend(const std::string& folder);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_ROOM_H_
