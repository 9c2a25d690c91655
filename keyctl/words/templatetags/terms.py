"""A word of the trade with its meaning at hand: ``{% term "control-key" %}Control keys{% endterm %}``.

It is a link to the glossary, which works anywhere. ``aria-description`` tells the meaning to whoever does not
see the page, and `terms.js` shows the same text beside the word on hover and focus.
"""

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from keyctl.words.glossary import WORDS

register = template.Library()


@register.simple_block_tag
def term(content: str, slug: str) -> SafeString:
    return format_html(
        '<a class="term" href="{}#{}" aria-description="{}">{}</a>',
        reverse("words:list"),
        slug,
        WORDS[slug].meaning,
        content,
    )
