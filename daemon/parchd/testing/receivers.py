"""A mail server and a web server on loopback that keep what they get, and misbehave when told.

The demo uses them as its sandbox, tests as the far end. Nothing is listened to beyond 127.0.0.1; leaving the ``with``
block ends every thread and frees the port.
"""

from parchd.testing.http_receiver import Answer, HttpReceiver, ReceivedRequest
from parchd.testing.mail_sandbox import MailSandbox, ReceivedMail

__all__ = ["Answer", "HttpReceiver", "MailSandbox", "ReceivedMail", "ReceivedRequest"]
