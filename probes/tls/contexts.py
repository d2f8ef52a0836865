"""Stage: ask, how to shake hands. The two ways of speaking TLS that a run has, made once for all of its targets."""

import asyncio
import ssl
from typing import Final

_LEGACY_SERVER: Final = 0x4
"""SSL_OP_LEGACY_SERVER_CONNECT of OpenSSL; Python names it from 3.12 on."""
_EVERY_STRENGTH: Final = "DEFAULT:@SECLEVEL=0"


class Contexts:
    """``verifying`` speaks TLS 1.2 and later (RFC 8996 forbids what was before) and trusts what this system trusts.
    ``reading`` trusts everybody and speaks what old devices speak: it is for reading what anybody may read, and no
    secret is ever sent over it. It still agrees on the latest version that both sides have.

    Neither compares names. Which name a certificate ought to have depends on who connects, and is a rule's business.
    """

    def __init__(self) -> None:
        self.verifying: Final = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        self.verifying.check_hostname = False
        self.verifying.minimum_version = ssl.TLSVersion.TLSv1_2
        # Not create_default_context: what it lets pass differs from one Python to the next, and so would the evidence.
        self.verifying.load_default_certs()
        self.reading: Final = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        self.reading.check_hostname = False
        self.reading.verify_mode = ssl.CERT_NONE
        self.reading.minimum_version = ssl.TLSVersion.MINIMUM_SUPPORTED
        self.reading.set_ciphers(_EVERY_STRENGTH)
        self.reading.options |= _LEGACY_SERVER

    @classmethod
    async def made(cls) -> "Contexts":
        """For `Wire.shared`. In a thread, since reading a system's list of issuers takes 20 ms and more."""
        return await asyncio.to_thread(cls)

    async def close(self) -> None:
        """They hold no sockets."""


def server_name(host: str) -> str:
    """What to call the peer when shaking hands: a name without its final dot (RFC 6066 section 3), or an address
    without the zone, which means nothing to the peer; ssl sends no address."""
    return host.partition("%")[0].removesuffix(".")
