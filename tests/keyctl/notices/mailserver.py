"""A mail server of a few lines: speaks SMTP on a socket, keeps what it takes, refuses as it is told."""

import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage


@dataclass
class Box:
    """What came in, and what is answered to whom: recipient or step to answers, the last one for good."""

    port: int = 0
    mails: list[EmailMessage] = field(default_factory=list)
    recipients: list[str] = field(default_factory=list)
    answers: dict[str, list[str]] = field(default_factory=dict)
    connections: int = 0

    def answer(self, step: str, usual: str) -> str:
        left = self.answers.get(step, [])
        return (left.pop(0) if len(left) > 1 else left[0]) if left else usual


class Session(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        self.box: Box = self.server.box  # type: ignore[attr-defined]
        self.box.connections += 1
        self.say("220 ready")
        while line := self.rfile.readline():
            verb = line[:4].upper().decode("ascii", "replace")
            if verb == "QUIT":
                self.say("221 bye")
                return
            self.obey(verb, line.decode("ascii", "replace").strip())

    def obey(self, verb: str, line: str) -> None:
        if verb == "RCPT":
            self.to = line.partition("<")[2].partition(">")[0]
            self.say(self.box.answer(self.to, "250 ok"))
        elif verb == "DATA":
            self.take()
        else:
            self.say(self.box.answer(verb, "250 ok"))

    def take(self) -> None:
        self.say("354 go on")
        lines: list[bytes] = []
        while (line := self.rfile.readline()) not in {b".\r\n", b""}:
            lines.append(line[1:] if line.startswith(b"..") else line)
        answer = self.box.answer("DATA", "250 taken")
        if answer.startswith("250"):
            self.box.mails.append(message_from_bytes(b"".join(lines), policy=policy.default))
            self.box.recipients.append(self.to)
        self.say(answer)

    def say(self, answer: str) -> None:
        self.wfile.write(answer.encode() + b"\r\n")


class Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = True
    daemon_threads = True


@contextmanager
def mail_server() -> Iterator[Box]:
    box = Box()
    with Server(("127.0.0.1", 0), Session) as server:
        server.box = box  # type: ignore[attr-defined]
        box.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
        thread.start()
        yield box
        server.shutdown()
        thread.join()
