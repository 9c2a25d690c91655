"""What may be looked at and on what ground, in every language of the pages: permissions and looks keep it in
English, as history does, and ``Secret.words`` of the apps above are made of these texts.
"""

from django.utils.translation import gettext_noop

THINGS = (
    gettext_noop("the pinning of core {core}"),
    gettext_noop("the cuts of master key {key}"),
    gettext_noop("the cuts of change key {key}"),
    gettext_noop("the cuts of control key {key}"),
    gettext_noop("the cuts of {key}, to cut a control blank"),
    gettext_noop("the recovered control key of {system}"),
    gettext_noop("where the cores read for {system} differ"),
    gettext_noop("every bitting of {place}, as export {export}"),
    gettext_noop("everything, with every bitting, as archive {archive}"),
    gettext_noop("the system that decoded cores at {site} make out"),
    gettext_noop("how the pins taken out of {core} compare with the records"),
    gettext_noop("which key of {system} a measured key is"),
    gettext_noop("which of {count} cores at {site} a key of {system} turns"),
    gettext_noop("the keys that nearly turn core {core}"),
    gettext_noop("{count} more at {site}"),
)
GROUNDS = (
    gettext_noop("about what is at hand"),
    gettext_noop("for order {order}"),
    gettext_noop("for the lost control key"),
)
