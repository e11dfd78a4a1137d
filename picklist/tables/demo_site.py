"""A small made-up hospital to try picklist on: it has one of each thing that an evening can bring.

D-103 wants a tray that D-101 gives back too late, D-104 more mesh than there is, the room of D-106 is mistyped,
a stand-in serves D-107, D-105 waits for a set, and D-102 has a latex alert.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

from picklist.tables.examples import rows_of
from picklist.tables.write import write_tables

# Of zones with the same clock, the first of these is named; any other is as good.
USUAL_ZONES = ("America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "Europe/London")
RAN_ALREADY = timedelta(minutes=40)  # for which D-099 has been running

# Each table as a CSV file would hold it. What begins with $ is a day, or a day and a time.
LINES: dict[str, str] = {
    "Settings": """\
setting,value
site,Demo Hospital (made up)
time zone,$zone
paper,Letter
setup lead,30
""",
    "Schedule": """\
case,day,room,start,minutes,surgeon,procedures,side,alerts,patient size,team,status,may move,priority,notes
D-099,$running_day,OR 4,$running_start,150,S3,HERNIA,left,,adult,N2,running,no,1,
D-101,$tomorrow,OR 1,07:30,90,S1,GALLBLADDER,none,,adult,N1,planned,yes,1,
D-102,$tomorrow,OR 2,08:00,110,S2,KNEE,left,latex,adult,N2,planned,yes,1,
D-103,$tomorrow,OR 1,09:40,75,S1,GALLBLADDER,none,,adult,N1,planned,yes,1,
D-104,$tomorrow,OR 3,07:45,60,S3,HERNIA,left,,adult,N3,planned,yes,1,bring the low stool
D-105,$tomorrow,OR 3,14:30,110,S2,KNEE,right,,adult,N3,planned,yes,1,
D-106,$tomorrow,OR-22,13:30,60,S3,HERNIA,right,,adult,N2,planned,yes,1,
D-107,$tomorrow,OR 2,11:00,80,S2,WRIST,right,,adult,N2,planned,yes,1,
D-201,$day_after,OR 1,07:30,90,S1,GALLBLADDER,none,,adult,N1,planned,yes,1,
""",
    "Procedures": """\
procedure,name,service,pack
GALLBLADDER,Gallbladder removal by scope,General,PK-GENERAL
HERNIA,Hernia repair with mesh,General,PK-GENERAL
KNEE,Knee scope with cartilage repair,Orthopedics,PK-LIMB
WRIST,Wrist plate,Orthopedics,PK-LIMB
""",
    "Cards": """\
procedure,surgeon,change,kind,thing,open,hold,counted,approved,note
GALLBLADDER,every,add,tray,T-BASIC,1,0,per case,yes,
GALLBLADDER,every,add,tray,T-SCOPE,1,0,per case,yes,
GALLBLADDER,every,add,item,200101,2,1,per case,yes,
GALLBLADDER,every,add,item,200105,1,0,per case,yes,
GALLBLADDER,every,add,item,200108,1,0,per procedure,yes,
GALLBLADDER,S1,add,item,200102,0,2,per case,yes,ask before opening
HERNIA,every,add,tray,T-BASIC,1,0,per case,yes,
HERNIA,every,add,item,200103,1,1,per case,yes,
HERNIA,every,add,item,200101,3,0,per case,yes,
HERNIA,every,add,item,200106,1,0,per case,yes,
KNEE,every,add,tray,T-KNEE,1,0,per case,yes,
KNEE,every,add,tray,T-BASIC,0,1,per case,yes,only on request
KNEE,every,add,item,200104,1,0,per case,yes,
KNEE,every,add,item,200107,2,0,per case,yes,
KNEE,every,add,item,200301,1,0,per case,yes,
WRIST,every,add,tray,T-WRIST,1,0,per case,yes,
WRIST,every,add,item,200102,2,1,per case,yes,
WRIST,every,add,item,200104,1,0,per case,yes,
WRIST,every,add,item,200302,0,1,per case,yes,
""",
    "Items": """\
item,name,unit,class,size,place,latex,latex-free twin,kept back,stand-ins,brought by
200101,"Suture 2-0 braided, 75 cm",each,supply,,A-1-01,no,,0,200102,
200102,"Suture 3-0 braided, 75 cm",each,supply,,A-1-02,no,,0,,
200103,"Mesh 10 x 15 cm",each,supply,,B-2-01,no,,0,200109,
200104,"Tourniquet cuff, rubber",each,supply,,A-2-04,yes,200110,0,,
200105,"Trocar 10 mm",each,supply,,B-1-03,no,,0,,
200106,"Needle counter, 20",each,supply,,A-1-04,no,,0,,
200107,"Irrigation tubing",each,supply,,B-1-01,no,,0,,
200108,"Specimen bag",each,supply,,B-1-02,no,,0,,
200109,"Mesh 15 x 15 cm",each,supply,,B-2-02,no,,0,,
200110,"Tourniquet cuff, latex-free",each,supply,,A-2-05,no,,0,,
200201,"Drape, large",each,supply,,A-2-01,no,,0,,
200202,"Table cover",each,supply,,A-2-02,no,,0,,
200211,"Gown L",each,gown,L,A-3-01,no,,0,,
200212,"Gown M",each,gown,M,A-3-02,no,,0,,
200221,"Glove 7.5",pair,outer glove,7.5,A-3-03,no,,0,,
200222,"Glove 7",pair,outer glove,7,A-3-04,no,,0,,
200223,"Glove 6.5",pair,outer glove,6.5,A-3-05,no,,0,,
200301,"Pump for irrigation",each,equipment,,,no,,0,,
200302,"Wrist plate, range of sizes",each,implant,,,no,,0,,the maker's agent
""",
    "Packs": """\
pack,name,item,quantity
PK-GENERAL,General pack,200201,2
PK-GENERAL,,200202,1
PK-LIMB,Limb pack,200201,1
PK-LIMB,,200202,2
""",
    "Trays": """\
tray,name,route,weight lb,container,sided,implants,latex,kept ready,stand-ins,count sheet
T-BASIC,Basic instruments,STEAM,16,yes,no,no,no,0,,yes
T-SCOPE,"Scope, camera and light",COLD,9,yes,no,no,no,0,,yes
T-KNEE,Knee scope,STEAM,14.5,yes,no,no,no,0,,yes
T-WRIST,Wrist instruments,STEAM,11,no,no,no,no,0,T-HAND,yes
T-HAND,Hand and wrist instruments,STEAM,13,no,no,no,no,0,,yes
""",
    "Sets": """\
set,tray,state,in case,step since,back at,place,recorded sterile at,recorded sterile until
BASIC-01,T-BASIC,on shelf,,,,S-1-01,$days_ago,no end
BASIC-02,T-BASIC,on shelf,,,,S-1-02,$days_ago,no end
BASIC-03,T-BASIC,on shelf,,,,S-1-03,$days_ago,no end
BASIC-04,T-BASIC,in use,D-099,,,,,
SCOPE-01,T-SCOPE,on shelf,,,,S-2-01,$days_ago,no end
KNEE-01,T-KNEE,on shelf,,,,S-2-02,$days_ago,no end
WRIST-01,T-WRIST,away,,,$in_three_days,,,
HAND-01,T-HAND,on shelf,,,,S-2-04,$days_ago,no end
""",
    "Lots": """\
item,lot,quantity,unit,expiry,place
200101,M1101,8,each,$in_a_month,A-1-01
200101,M1102,30,each,$in_two_years,A-1-01
200102,M1201,24,each,$in_two_years,A-1-02
200103,M1301,1,each,$in_two_years,B-2-01
200103,M1302,4,each,$last_week,B-2-01
200104,M1401,6,each,$in_two_years,A-2-04
200105,M1501,12,each,$in_two_years,B-1-03
200106,M1601,20,each,never,A-1-04
200107,M1701,14,each,$in_two_years,B-1-01
200108,M1801,9,each,$in_two_years,B-1-02
200109,M1901,2,each,$in_two_years,B-2-02
200110,M2001,4,each,$in_two_years,A-2-05
200211,M2111,30,each,$in_two_years,A-3-01
200212,M2121,30,each,$in_two_years,A-3-02
200221,M2211,40,pair,$in_two_years,A-3-03
200222,M2221,40,pair,$in_two_years,A-3-04
200223,M2231,40,pair,$in_two_years,A-3-05
PK-GENERAL,M3001,8,,$in_two_years,P-1-01
PK-LIMB,M3101,6,,$in_two_years,P-1-02
""",
    "Places": """\
place,walking order,area
P-1-01,10,Custom packs
P-1-02,20,Custom packs
A-1-01,110,Core supply
A-1-02,120,Core supply
A-1-04,130,Core supply
A-2-01,140,Core supply
A-2-02,150,Core supply
A-2-04,160,Core supply
A-2-05,170,Core supply
A-3-01,180,Core supply
A-3-02,190,Core supply
A-3-03,200,Core supply
A-3-04,210,Core supply
A-3-05,220,Core supply
B-1-01,310,Procedure supply
B-1-02,320,Procedure supply
B-1-03,330,Procedure supply
B-2-01,340,Procedure supply
B-2-02,350,Procedure supply
S-1-01,410,Tray storage
S-1-02,420,Tray storage
S-1-03,430,Tray storage
S-2-01,440,Tray storage
S-2-02,450,Tray storage
S-2-04,460,Tray storage
""",
    "Routes": """\
route,step,after,usual minutes,least minutes,station,cycle,temperature C,exposure minutes,drying minutes
STEAM,manual cleaning,start,20,10,,,,,
STEAM,washer,manual cleaning,45,40,washer,,,,
STEAM,assembly,washer,25,15,,,,,
STEAM,steam sterilizer,assembly,60,55,sterilizer,pre-vacuum,132,4,25
STEAM,cooling,steam sterilizer,40,30,,,,,
COLD,manual cleaning,start,25,15,,,,,
COLD,assembly,manual cleaning,15,10,,,,,
COLD,cold sterilizer,assembly,50,45,,,,,
""",
    "Stations": """\
station,machines,trays per load,longest wait
washer,2,6,15
sterilizer,2,8,15
""",
    "Hours": """\
station,weekday,from,to
washer,daily,06:00,23:30
sterilizer,daily,06:00,23:30
""",
    "Staff": """\
person,name,role,outer glove,gown
S1,Dr. Amber,surgeon,7.5,L
S2,Dr. Birch,surgeon,7,L
S3,Dr. Cedar,surgeon,6.5,M
N1,Nurse Dune,scrub person,7,M
N2,Nurse Ember,scrub person,6.5,M
N3,Nurse Fern,scrub person,7.5,L
""",
    "Rooms": """\
room,opens,closes
OR 1,07:00,19:00
OR 2,07:00,19:00
OR 3,07:00,19:00
OR 4,00:00,23:59
""",
}


def write_demo_site(folder: Path, now: datetime) -> tuple[Path, ...]:
    """Write the made-up hospital into a folder, its cases on the day after ``now``; give the files' paths.

    ``now`` naive is this computer's wall time. The site's clock is that of ``now``. Raises OSError.
    """
    moment = now.astimezone()
    wall = moment.replace(tzinfo=None)
    running, day = wall - RAN_ALREADY, timedelta(days=1)
    words = {
        "zone": _zone_of(moment),
        "running_day": f"{running:%Y-%m-%d}",
        "running_start": f"{running:%H:%M}",
        "tomorrow": f"{wall + day:%Y-%m-%d}",
        "day_after": f"{wall + 2 * day:%Y-%m-%d}",
        "in_three_days": f"{wall + 3 * day:%Y-%m-%d} 12:00",
        "days_ago": f"{wall - 3 * day:%Y-%m-%d} 16:20",
        "last_week": f"{wall - 7 * day:%Y-%m-%d}",
        "in_a_month": f"{wall + 30 * day:%Y-%m-%d}",
        "in_two_years": f"{wall.year + 2}-06",
    }
    return write_tables(folder, {name: rows_of(name, lines, words) for name, lines in LINES.items()})


def _zone_of(moment: datetime) -> str:
    """A time zone in which the clock shows what it shows at ``moment``."""
    names: Iterable[str] = (*USUAL_ZONES, *sorted(available_timezones()))
    return next((one for one in names if moment.astimezone(ZoneInfo(one)).utcoffset() == moment.utcoffset()), "UTC")
