"""The part of a form that takes photos and PDFs: from files or the camera, shown small, removable.

A file is checked and kept as soon as it comes; the entry names it once its form is saved. Until
then what is to be named is a draft, so that closing the form without saving changes nothing. Where
photos are all that is changed, each is named at once, and only what was removed last is a draft.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from appraise.errors import AppraiseError
from appraise.intake.file_names import clean_name
from appraise.intake.files import size_words
from appraise.models.files import LARGEST_FILE, MOST_FILES, Attachment, Attachments
from appraise.services.records.workspace import attach, attachment, thumbnails
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.camera import camera_input

__all__ = ["drafted", "files_box", "forget_drafts", "small_pictures"]

Keep = Callable[[Attachments], bool]
TYPES = ["jpg", "jpeg", "png", "webp", "pdf"]
CAMERA_WIDTH = 480  # pixels
SMALL = 120  # pixels
NOT_HERE = "The file itself is not here, only its name. Add it again from where it came."


@dataclass(frozen=True, slots=True)
class Draft:
    """What a form that is not saved yet is to name.

    Attributes
    ----------
    base : what the entry itself names.
    files : what is attached, as far as the form knows.
    turn : rises with each file taken: the uploader is then a new, empty one.
    said, refused : what is to be said of the files that came last.
    removed : what was removed last and where it stood, to be put back.
    """

    base: Attachments
    files: Attachments
    turn: int = 0
    said: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    removed: tuple[int, Attachment] | None = None


def files_box(kept: Attachments, key: str, keep: Keep | None = None) -> Attachments:
    """Show the photos and PDFs of an entry and take more; return those that it is to name.

    Parameters
    ----------
    kept : those that the entry names so far.
    key : of the form; a new key begins anew from `kept`.
    keep : saves the entry with other files at once, and returns whether it is kept; None where the
        form has a button for that.
    """
    draft = _drafts().setdefault(key, Draft(kept, kept))
    if draft.base != kept:
        draft = _drafts()[key] = _onto(kept, draft)
    if draft.files:
        small = thumbnails(cached.workspace(), draft.files)
        st.caption("Photos and PDFs of it:")
        with st.grid(5, min_column_width=150, vertical_alignment="bottom"):
            for one in draft.files:
                _card(one, key, small, keep)
    if draft.removed is not None:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.caption(f"Removed: {show.plain(draft.removed[1].name)}")
            st.button(
                "Put it back",
                icon=":material/undo:",
                key=f"{key}:put-back",
                on_click=_put_back,
                args=(key, keep),
            )
    _takers(draft, key, keep)
    return draft.files


def drafted(key: str) -> Attachments:
    """Return what the form of that key would name now, whether it is on the page or not."""
    draft = _drafts().get(key)
    return draft.files if draft is not None else ()


def forget_drafts(start: str = "") -> None:
    """Let forms begin anew from what is kept; call it whenever one is opened or closed.

    Parameters
    ----------
    start : only forms whose key begins so.
    """
    drafts = _drafts()
    for key in [one for one in drafts if one.startswith(start)]:
        del drafts[key]


def small_pictures(files: Attachments) -> None:
    """Show photos small, and name PDFs and what is not here."""
    if not files:
        return
    small = thumbnails(cached.workspace(), files)
    pictures = {one: small.get(one.id) for one in files}
    with st.container(horizontal=True, gap="small"):
        for one, picture in pictures.items():
            if picture is not None:
                st.image(picture, width=SMALL, alt=one.name)
    rest = [one for one, picture in pictures.items() if picture is None]
    if rest:
        named = ", ".join(
            show.plain(one.name) + ("" if one.id in small else " (not here)") for one in rest
        )
        st.caption(f":material/attach_file: {named}")


def _drafts() -> dict[str, Draft]:
    found: dict[str, Draft] = st.session_state.setdefault(state.DRAFTS, {})
    return found


def _onto(kept: Attachments, draft: Draft) -> Draft:
    """Return the draft on what is kept by now, another window's photos among it."""
    before, ours = ({one.id for one in files} for files in (draft.base, draft.files))
    left = [one for one in kept if one.id in ours or one.id not in before]
    there = {one.id for one in kept}
    added = [one for one in draft.files if one.id not in before | there]
    back = draft.removed is not None and draft.removed[1].id in {one.id for one in left}
    removed = None if back else draft.removed
    return replace(draft, base=kept, files=(*left, *added), removed=removed)


def _settle(key: str, new: Draft, keep: Keep | None) -> None:
    """Let a form have a new draft; where it cannot be kept at once, with the files it had."""
    old = _drafts()[key]
    if keep is not None and new.files != old.files:
        if keep(new.files):
            new = replace(new, base=new.files)
        else:
            new = replace(old, turn=new.turn, said=(), refused=new.refused)
    _drafts()[key] = new


def _card(one: Attachment, key: str, small: dict[str, bytes | None], keep: Keep | None) -> None:
    """Show one file: small picture or sign, name and size, what can be done with it."""
    name = show.plain(one.name)
    here = one.id in small
    with st.container():
        picture = small.get(one.id)
        if picture is not None:
            st.image(picture, width="stretch", alt=one.name)
        st.caption(
            f"{'' if picture else ':material/description: '}{name}, {size_words(one.size)}  \n"
            f"added {one.added_on}{', says where it was taken' if one.position_kept else ''}"
        )
        if not here:
            st.caption(f":material/warning: {NOT_HERE}")
        with st.container(horizontal=True, gap="xsmall"):
            if here:
                st.download_button(
                    "Open",
                    data=_reader(one),
                    file_name=clean_name(one.name, one.media_type),
                    mime=one.media_type,
                    on_click="ignore",
                    key=f"{key}:open:{one.id}",
                    help=name,
                )
            st.button(
                "Remove",
                key=f"{key}:drop:{one.id}",
                on_click=_drop,
                args=(key, one, keep),
                help=name,
            )


def _reader(one: Attachment) -> Callable[[], bytes]:
    """Return what reads the bytes once somebody wants them."""
    workspace = cached.workspace()
    return lambda: attachment(workspace, one).content


def _takers(draft: Draft, key: str, keep: Keep | None) -> None:
    """Show what takes files, with what is to be said of those that came last beside it."""
    uploads, shots = f"{key}:files:{draft.turn}", f"{key}:shot:{draft.turn}"
    st.file_uploader(
        f"Add photos or PDFs: each is kept up to {size_words(LARGEST_FILE)}",
        type=TYPES,
        accept_multiple_files=True,
        key=uploads,
        on_change=_take,
        args=(key, uploads, keep),
    )
    for words in draft.refused:
        st.error(show.plain(words), icon=":material/block:")
    for words in draft.said:
        st.caption(show.plain(words))
    with st.container(horizontal=True):
        camera = st.toggle("Use the camera of this device", key=f"{key}:camera")
        st.checkbox("Keep the place where it was taken", key=f"{key}:position")
    if camera:
        camera_input("Take a photo", shots, _take, (key, shots, keep), width=CAMERA_WIDTH)


def _take(key: str, widget: str, keep: Keep | None) -> None:
    """Keep what came; say of each what was changed, or why it cannot be kept."""
    given = st.session_state[widget]
    shot = isinstance(given, UploadedFile)
    draft = _drafts().get(key)
    if draft is None or not given:
        return
    files, said, refused = list(draft.files), list[str](), list[str]()
    for one in [given] if shot else given:
        if not isinstance(one, UploadedFile):  # taken away again before it was looked at
            continue
        name = f"photo {len(files) + 1}.jpg" if shot else one.name
        if len(files) == MOST_FILES:
            refused.append(
                f"{clean_name(name)}: there are {MOST_FILES} files already, which is the most. "
                "Remove one first."
            )
            continue
        try:
            new = attach(
                cached.workspace(),
                one.getvalue(),
                name,
                keep_position=bool(st.session_state.get(f"{key}:position")),
            )
        except AppraiseError as error:
            refused.append(str(error))
            continue
        twin = next((old for old in files if old.id == new.attachment.id), None)
        if twin is not None:
            said.append(f"{new.attachment.name}: is there already, as {twin.name}.")
            continue
        files.append(new.attachment)
        if new.words:
            said.append(f"{new.attachment.name}: {' '.join(new.words)}")
    taken = Draft(draft.base, tuple(files), draft.turn + 1, tuple(said), tuple(refused))
    _settle(key, taken, keep)


def _drop(key: str, one: Attachment, keep: Keep | None) -> None:
    draft = _drafts()[key]
    left = tuple(other for other in draft.files if other.id != one.id)
    removed = (draft.files.index(one), one)
    _settle(key, replace(draft, files=left, said=(), refused=(), removed=removed), keep)


def _put_back(key: str, keep: Keep | None) -> None:
    draft = _drafts()[key]
    if draft.removed is None:
        return
    place, one = draft.removed
    files = (*draft.files[:place], one, *draft.files[place:])
    _settle(key, replace(draft, files=files, said=(), refused=(), removed=None), keep)
