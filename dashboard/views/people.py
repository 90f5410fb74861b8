"""People: what is held on oneself, who may do what, how far kits are shared, keys for programs."""

import pandas as pd
import streamlit as st

from dashboard import access, consent, days, parts
from dashboard.access import Action, Role, Share
from dashboard.standing import club
from data import belongings
from data.people import TOKEN_DAYS, Known, PeopleError

SEEN = {
    Share.NONE: "nothing, not even the name",
    Share.VERDICTS: "the verdict of each kit",
    Share.FULL: "everything, as the member does",
}
USUAL = "as usual for the club"
EVERYTHING = "erase everything"


def refused(error: Exception) -> None:
    st.session_state["people-said"] = str(error)


def show_said() -> None:
    said = st.session_state.pop("people-said", "")
    if said:
        st.error(parts.plain(said))


def show_erased() -> None:
    """What was erased just now, where it was asked for."""
    if said := st.session_state.pop("people-erased", ""):
        st.success(parts.plain(said))


# ---- one's own


def agree() -> None:
    known = access.signed_in()
    if known is not None and not consent.is_given(known):
        club().people.agree(known.person_id, access.CONSENT)


def withdraw() -> None:
    known = access.signed_in()
    if known is not None and consent.is_given(known):
        club().people.withdraw(known.person_id)


def own(me: access.Person) -> None:
    """What anyone may do with what is held on them."""
    st.header("what is held on me?")
    st.text(f"In the records you are called {me.name}; you are {me.called}.")
    what_one_may(me)
    known = access.signed_in()
    has_agreed = known is not None and consent.is_given(known)
    if has_agreed or access.sends_lists(me):
        st.text(access.CONSENT)
    else:
        st.text("You send no lists, so there is nothing to agree to.")
    if has_agreed:
        st.button("Withdraw my agreement", on_click=withdraw, key="withdraw")
    elif known is not None and access.sends_lists(me):
        st.button("I agree", on_click=agree, key="agree-here")
    if not me.may(Action.MANAGE_PEOPLE):
        show_erased()
    if me.member and me.may(Action.TAKE_OUT, me.member):
        take_out(me.member, "own")


def what_one_may(me: access.Person) -> None:
    """What someone may do with what is the club's, and with what is their own."""
    everyones = [action for action in Action if me.may(action)]
    own = [action for action in Action if action not in everyones and me.may(action, me.member)]
    said = {
        f"As {me.called} you may:": everyones,
        f"Of what is your own, as {parts.plain(me.member)}, also:": own,
    }
    for what, actions in said.items():
        if actions:
            st.markdown("\n".join([what, *(f"- {action}" for action in actions)]))


def take_out(member: str, key: str) -> None:
    """Everything that is held on a member, to download, and to erase for good."""
    access.require(Action.TAKE_OUT, member)
    parts.download(
        f"Download everything that is held on {parts.plain(member)}",
        lambda: belongings.export(club().store, member, club().policy().aliases),
        "everything.zip",
        f"export-{key}",
    )
    with st.expander(f"erase everything that is held on {parts.plain(member)}"):
        st.markdown(
            "Lists, earlier files and agreements go for good, also out of the files that were sent together with "
            "those of others. The records keep one line that says that a member was erased, not which. Backups "
            "made before still hold everything until they are deleted; whoever brings one back leaves it out again, for "
            "which a seal made of the call sign, not the call sign, is kept beside them. The file of the database keeps "
            "remains until it is made anew from a copy."
        )
        written = st.text_input(f"to go on, write: {EVERYTHING}", key=f"sure-{key}")
        st.button(
            "Erase for good",
            key=f"erase-{key}",
            disabled=written.strip().lower() != EVERYTHING,
            on_click=erase,
            args=(member,),
        )


def erase(member: str) -> None:
    me = access.require(Action.TAKE_OUT, member)
    said = club().erase(member, me.name)
    st.session_state["people-erased"] = f"Erased: {said}."


# ---- everyone


def add() -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    told = {name: str(st.session_state[f"new-{name}"]) for name in ("login", "name", "role", "member")}
    try:
        club().people.add(**told, by=me.name)
    except PeopleError as error:
        refused(error)
        return
    for name in ("login", "name", "member"):
        st.session_state[f"new-{name}"] = ""


def role_key(person: Known) -> str:
    """Under which a role stands in the session, apart from those of the people who were chosen before."""
    return f"role-of-{person.person_id}"


def member_key(person: Known) -> str:
    """Under which a call sign stands in the session."""
    return f"member-of-{person.person_id}"


def set_role(person: Known) -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    try:
        club().people.set_role(person.person_id, str(st.session_state[role_key(person)]), me.name)
    except PeopleError as error:
        refused(error)


def set_member(person: Known) -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    try:
        club().people.set_member(person.person_id, str(st.session_state[member_key(person)]), me.name)
    except PeopleError as error:
        refused(error)


def remove(person: Known) -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    try:
        club().people.remove(person.person_id, me.name)
    except PeopleError as error:
        refused(error)


def who() -> None:
    """Everyone who may sign in, one of them to change, and a new one."""
    st.header("who may sign in, as what?")
    known = [person for person in club().people.known() if person.removed is None]
    if known:
        st.dataframe(
            pd.DataFrame([(p.name, p.login, p.role, p.member, p.added) for p in known]).set_axis(
                ["name", "signs in as", "role", "member", "since (UTC)"], axis=1
            ),
            hide_index=True,
            key="people",
            alt="Who may sign in",
            column_config={"since (UTC)": days.moments("since (UTC)")},
        )
        names = {person.person_id: person.name for person in known}
        number = st.selectbox(
            "person to change", list(names), format_func=names.get, index=None, key="one-person",
            placeholder="choose a person",
        )  # fmt: skip
        if number is not None:
            change(next(person for person in known if person.person_id == number))
    else:
        st.text("Nobody yet. Whoever sits at this machine is the coordinator.")
    with st.form("new-person", border=True):
        st.subheader("add a person")
        st.text_input("e-mail address that they sign in with", key="new-login")
        st.text_input("name in the records", key="new-name")
        st.selectbox("role", [role.value for role in Role], index=3, key="new-role")
        st.text_input("call sign or member number, if they are a member", key="new-member")
        st.form_submit_button("Add", on_click=add)


def change(person: Known) -> None:
    with st.container(border=True, key="one"):
        roles = [role.value for role in Role]
        st.selectbox(
            "role",
            roles,
            index=roles.index(person.role),
            key=role_key(person),
            on_change=set_role,
            args=(person,),
        )
        st.text_input(
            "call sign or member number, whose lists are their own",
            person.member,
            key=member_key(person),
            on_change=set_member,
            args=(person,),
        )
        st.button("Let them sign in no more", on_click=remove, args=(person,), key="remove-person")
        keys(person)


def keys(person: Known) -> None:
    """Keys with which programs act for a person."""
    st.subheader("keys for programs")
    table = club().people.tokens()
    mine = table[(table["person_id"] == person.person_id) & table["revoked"].isna()]
    if len(mine):
        st.dataframe(
            mine[["token_id", "label", "created", "expires", "used"]],
            hide_index=True,
            key="keys",
            alt="Keys",
            column_config={
                "token_id": "number",
                "label": "what for",
                "created": days.moments("made (UTC)"),
                "expires": days.moments("counts until (UTC)"),
                "used": days.moments("last used (UTC)"),
            },
        )
        names = {row.token_id: f"{row.token_id}: {row.label}" for row in mine.itertuples()}
        number = st.selectbox(
            "key to end", list(names), format_func=names.get, index=None, key="one-key",
            placeholder="choose a key",
        )  # fmt: skip
        st.button("End it", disabled=number is None, on_click=end_key, args=(number,), key="end-key")
    st.text_input("what the key is for", key="key-label")
    st.number_input("days that it counts", 1, 366, TOKEN_DAYS, key="key-days")
    st.button("Make a key", on_click=make_key, args=(person,), key="make-key")
    made = st.session_state.pop("made-key", "")
    if made:
        st.text("Copy it now; it is not shown again, and is not kept:")
        st.code(made, language=None)


def make_key(person: Known) -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    label, days = str(st.session_state["key-label"]), int(st.session_state["key-days"])
    st.session_state["made-key"] = club().people.new_token(person.person_id, label, me.name, days)


def end_key(number: int) -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    club().people.revoke_token(number, me.name)


def share(member: str, key: str) -> None:
    me = access.require(Action.MANAGE_PEOPLE)
    word = st.session_state[key]
    club().people.set_share(member, None if word == USUAL else str(word), me.name)


def sharing() -> None:
    """How far the kits of all and of single members are shared."""
    st.header("what do members see of each other?")
    shares, levels = club().people.shares(), list(Share)
    st.radio(
        "of the kits of others they see",
        levels,
        format_func=SEEN.get,
        index=levels.index(Share(shares[""])),
        key="share-all",
        on_change=share,
        args=("", "share-all"),
    )
    members = sorted(parts.standing().of("member")["subject"])
    member = st.selectbox(
        "a member who shares otherwise", members, index=None, key="share-who", placeholder="choose a member"
    )
    if member:
        choices = [USUAL, *levels]
        st.selectbox(
            "others see",
            choices,
            format_func=lambda word: SEEN.get(word, word),
            index=choices.index(shares.get(member, USUAL)),
            key=f"share-{member}",
            on_change=share,
            args=(member, f"share-{member}"),
        )


def take_out_any() -> None:
    st.header("take a member's things out")
    show_erased()
    members = sorted(parts.standing().of("member")["subject"])
    member = st.selectbox("member", members, index=None, key="take-out", placeholder="choose a member")
    if member:
        take_out(member, "any")


def show() -> None:
    me = access.require(Action.SEE_SEASON)
    st.title("Who may do what?")
    show_said()
    own(me)
    if me.may(Action.MANAGE_PEOPLE):
        who()
        sharing()
        take_out_any()


show()
