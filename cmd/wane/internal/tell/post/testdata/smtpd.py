# An SMTP server on 127.0.0.1 for the test with a real counterpart: TLS by STARTTLS, then a login, then mail, each of which
# goes into a file of its own. It prints its port, and ends when its standard input does.
import ssl
import sys
from pathlib import Path

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

folder, user, word = Path(sys.argv[1]), sys.argv[2].encode(), sys.argv[3].encode()


class Handler:
    def __init__(self):
        self.number = 0

    async def handle_DATA(self, server, session, envelope):
        self.number += 1
        (folder / f"{self.number:03}.eml").write_bytes(envelope.content)
        return "250 kept"


def login(server, session, envelope, mechanism, data):
    return AuthResult(success=data.login == user and data.password == word, handled=False)


context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain(folder / "cert.pem", folder / "key.pem")
c = Controller(Handler(), hostname="127.0.0.1", port=0, tls_context=context, require_starttls=True,
               authenticator=login, auth_required=True)
# the controller asks its own port whether it is up, which it does not know before: bind one first
import socket

with socket.socket() as s:
    s.bind(("127.0.0.1", 0))
    c.port = s.getsockname()[1]
c.start()
print(c.port, flush=True)
sys.stdin.read()
c.stop()
