"""A club of one member whose texts are hostile, long and of many scripts."""

from pathlib import Path

HOSTILE = '<b>bold</b> & <img src="x"/> <para> &lt; {0} %s \\ ]]> <!-- =1+1'
LONG = "w" * 900
LISTS = {
    "inventory.csv": [
        "member,kit,item,kind,quantity,module,spare,condition,capacity_ah,charged,expires,acquired",
        f'Q1ABC,"{HOSTILE.replace(chr(34), chr(34) * 2)}","{HOSTILE.replace(chr(34), chr(34) * 2)}",handheld,1,'
        f'"{HOSTILE.replace(chr(34), chr(34) * 2)}",,,,,,',
        f"Q1ABC,go bag,{LONG},handheld,1,{LONG},,,,,,",
        "Q1ABC,go bag,lithium block,battery_lifepo4,1,power,,,20,2027-01-10,,2026-01-01",
        "Q1ABC,go bag,Ωμέγα радио łódź,handheld,1,radio,,,,,,",
        "Q1ABC,go bag,無線機 라디오 ラジオ,handheld,1,radio,,,,,,",
        "Q1ABC,go bag,радио \U0001f4fb \U0001f600,headlamp,1,radio,,,,,,",
        "Q1ABC,go bag,worn lead,dc_lead,1,power,,faulty,,,,",
        "Q1ABC,go bag,spare pack,handheld_pack,2,radio,yes,,1.8,2026-06-01,,",
        "Q1ABC,go bag,bandages,first_aid,1,safety,,,,,2027-06-30,",
    ],
    "members.csv": [
        "member,licence_class,licence_expires,first_aid_expires,carry_limit_kg,solo_ok,night_ok,cold_limit_c,heat_limit_c,walk_limit_km",
        "Q1ABC,general,2027-09-01,2027-01-15,8,no,yes,0,30,2",
    ],
    "kits.csv": [
        "member,kit,hours,packed,inspected",
        "Q1ABC,go bag,6,2027-01-05,2026-05-01",
    ],
    "events.csv": [
        "event,starts,ends,utc_offset_h,temp_min_c,temp_max_c,storms_possible",
        "Fog Walk,2027-04-25T05:15,2027-04-25T12:30,-5,-4,12,yes",
        "=cmd|Walk,2027-05-01T08:00,2027-05-01T10:00,,,,",
    ],
    "posts.csv": [
        "event,post,post_type,bands,modes,access,walk_km,beside_traffic",
        "Fog Walk,Gate,aid_station,2m,fm,walk,3,yes",
        "Fog Walk,Bridge,mile_marker,2m,digital_voice,drive,,",
    ],
    "assignments.csv": ["event,post,member,kit", "Fog Walk,Gate,Q1ABC,go bag"],
    "offers.csv": ["offer,kind,price_usd,available,paid_by", "Spare radio,handheld,100,,member", "Dear radio,handheld,300,5,club"],
    "loans.csv": ["item,borrower,out,due,condition_out", "club <i>battery</i>,Q1ABC,2027-01-01,2027-02-01,ok"],
}  # fmt: skip


def write(folder: Path) -> None:
    """Its lists, into a folder."""
    for name, lines in LISTS.items():
        (folder / name).write_text("\n".join(lines) + "\n", "utf-8")
