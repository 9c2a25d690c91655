"""Writing a notice, trying again, and the address of somebody."""

from keyctl.notices.attachments import register_attachment
from keyctl.notices.services.sending import send_waiting
from keyctl.notices.services.writing import mail_of, retry_notice, send_notice, send_test

__all__ = ["mail_of", "register_attachment", "retry_notice", "send_notice", "send_test", "send_waiting"]
