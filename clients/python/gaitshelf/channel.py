"""The channel to a server: plain on this machine, by mutual TLS with a member's certificate to others."""
from __future__ import annotations

from pathlib import Path
from typing import Optional, Union

import grpc

from .errors import GaitshelfError


def _is_this_machine(address: str) -> bool:
    host = address.rpartition(":")[0]
    return host in ("localhost", "[::1]") or host.startswith("127.")


def _read(folder: Path, name: str) -> bytes:
    try:
        return (folder / name).read_bytes()
    except OSError as error:
        raise GaitshelfError(f"identity: cannot read {folder / name}: {error.strerror}",
                             "FAILED_PRECONDITION") from None


def open_channel(address: str, identity: Union[str, Path, None],
                 options: Optional[list] = None) -> grpc.Channel:
    """Opens a channel; does not wait for the server.

    identity: folder with ca.pem, member.pem and member.key, with which every TCP address is dialled
    by mutual TLS; a Unix socket never is.
    """
    is_socket = address.startswith(("unix:", "unix-abstract:"))
    if is_socket or (not identity and _is_this_machine(address)):
        return grpc.insecure_channel(address, options=options)
    if not identity:
        raise GaitshelfError(
            f"the server {address} is another machine's, and there is no identity; give the folder "
            "that deploy/lab-ca made for you, or set GAITSHELF_IDENTITY", "INVALID_ARGUMENT")
    folder = Path(identity)
    credentials = grpc.ssl_channel_credentials(
        root_certificates=_read(folder, "ca.pem"), private_key=_read(folder, "member.key"),
        certificate_chain=_read(folder, "member.pem"))
    return grpc.secure_channel(address, credentials, options=options)
