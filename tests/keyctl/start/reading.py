"""The first page as a test reads it: its blocks by their question, and its words as a browser gets them."""

import re
from datetime import date, timedelta

from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.start.blocks import Block
from keyctl.start.selectors import FirstPage, first_page


def today() -> date:
    return timezone.localdate()


def day(shift: int) -> date:
    return today() + timedelta(days=shift)


def questions(actor: User) -> list[str]:
    return [block.question for part in first_page(actor).parts for block in part.blocks]


def block(actor: User, question: str) -> Block:
    return block_of(first_page(actor), question)


def block_of(page: FirstPage, question: str) -> Block:
    (found,) = [each for part in page.parts for each in part.blocks if each.question.startswith(question)]
    return found


def said(found: Block) -> list[tuple[str, str]]:
    """What each line names, and what its mark says."""
    return [(line.what, line.mark.words if line.mark else "") for line in found.lines]


def words_of(client: Client, actor: User) -> str:
    client.force_login(actor)
    answer = client.get("/")
    assert answer.status_code == 200
    main = answer.content.decode().split("<main", 1)[1].split("</main>", 1)[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", main))
