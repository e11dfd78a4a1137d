"""A small site in which every optional column says something that changes the plan. All of it is invented."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path

# One text for each table: a header and rows, as somebody types them.
RICH: Mapping[str, str] = {
    "Settings": "setting,value,meaning\nsite,Example Hospital,\ntime zone,UTC,\ndraws,0,\nloan hours,24,\n",
    "Schedule": "case,day,room,start,minutes,surgeon,procedures,side,alerts,patient size,"
    "team,teams at once,status,may move,priority,notes\n"
    """C-0,2026-11-25,OR 3,17:00,120,S1,TOE,none,,adult,,1,running,no,1,
C-1,2026-11-26,OR 1,07:30,90,S1,HIP,left,latex,adult,N1,1,planned,yes,1,bring spare battery
C-2,2026-11-26,OR 2,10:00,60,S2,HIP; TOE,right,,child,,2,planned,no,3,
C-3,2026-11-26,OR 1,10:30,60,S2,TOE,none,,adult,,1,planned,yes,1,
C-4,2026-11-26,OR 2,07:30,60,S2,TOE,none,,adult,,1,cancelled,yes,1,
C-5,2026-11-26,OR 3,12:00,60,S1,HIP,left,,adult,,1,planned,yes,1,
""",
    "Procedures": "procedure,name,service,pack\nHIP,Hip replacement,Orthopedics,PK-1\nTOE,Toe repair,Podiatry,\n",
    "Staff": """person,name,role,outer glove,under glove,gown
S1,Dr. Quill,surgeon,7.5,8,L
S2,Dr. Tarn,surgeon,6.5,7,M
N1,A. Fenn,scrub,7.5,8,L
""",
    "Rooms": "room,opens,closes,building\nOR 1,07:00,15:00,Main\nOR 2,07:00,19:00,Annex\nOR 3,06:30,19:00,Main\n",
    "Cards": """procedure,surgeon,change,kind,thing,instead of,open,hold,side,only if,counted,from,until,approved,note
HIP,every,add,tray,T-HIP,,1,0,,,per case,,,yes,check the lock
HIP,every,add,tray,T-BONE,,1,0,,,per case,,,yes,
HIP,every,add,item,100001,,2,1,,,per case,,,yes,
HIP,every,add,item,100002,,1,0,left,,per case,,,yes,
HIP,every,add,item,100003,,1,0,,size child,per case,,,yes,
HIP,S1,replace,item,100004,100001,,,,,per case,,,yes,
HIP,S2,remove,item,100005,,,,,,per case,,,yes,
HIP,every,add,item,100005,,1,0,,,per case,2026-01-01,,yes,
TOE,every,add,tray,T-BASIC,,1,0,,,per case,,,yes,
TOE,every,add,item,100002,,1,0,,,per procedure,,,yes,
HIP,every,add,item,100002,,1,0,,,per procedure,,,yes,
TOE,every,add,item,100006,,1,0,,,per case,2027-01-01,,yes,
TOE,every,add,item,100007,,1,0,,,per case,,2026-01-31,yes,
TOE,every,add,item,100008,,1,0,,,per case,,,no,
every,every,add,item,100009,,1,0,,,per case,,,yes,
HIP,every,add,item,100010,,1,0,,,per case,,,yes,
HIP,every,add,tray,T-FINE,,0,1,,,per case,,,yes,
""",
    "Items": """item,name,unit,class,size,place,latex,latex-free twin,GTIN,HIBC,kept back,stand-ins,brought by,retired
100001,Suture,each,supply,,A-01,no,,12345670,,0,,,no
100002,Sponge,pack,supply,,A-02,yes,100011,,A999EXAMPLE1,0,,,no
100003,Child drape,each,supply,,A-02,no,,,,2,100001,,no
100004,Fine suture,each,supply,,A-01,no,,,,0,,,no
100005,Blade,each,supply,,A-01,no,,,,0,,,no
100006,Cuff,each,supply,,A-01,no,,,,0,,,no
100007,Old drape,each,supply,,A-01,no,,,,0,,,no
100008,Pending drape,each,supply,,A-01,no,,,,0,,,no
100009,Lamp handle,each,equipment,,,no,,,,0,,,no
100010,Hip cup,each,implant,50,,no,,,,0,,Example Implants,no
100011,Sponge without latex,pack,supply,,A-02,no,,,,0,,,no
100012,Outer glove 7.5,pair,outer glove,7.5,A-03,no,,,,0,,,no
100013,Outer glove 6.5,pair,outer glove,6.5,A-03,no,,,,0,,,no
100014,Under glove 8,pair,under glove,8,A-03,no,,,,0,,,no
100015,Under glove 7,pair,under glove,7,A-03,no,,,,0,,,no
100016,Gown L,each,gown,L,A-03,no,,,,0,,,no
100017,Gown M,each,gown,M,A-03,no,,,,0,,,no
100018,Withdrawn,each,supply,,A-03,no,,,,0,,,yes
""",
    "Packs": "pack,name,item,quantity\nPK-1,Hip pack,100001,1\n",
    "Trays": """tray,name,route,weight lb,container,sided,implants,latex,kept ready,stand-ins,count sheet,retired
T-HIP,Hip basic,STEAM,17.5,yes,yes,no,no,0,,yes,no
T-BONE,Bone set,STEAM,12,no,no,yes,no,0,T-BONE2,no,no
T-BONE2,Bone set two,STEAM,12,no,no,no,yes,0,,yes,no
T-BASIC,Basic,STEAM,9,no,no,no,no,1,,yes,no
T-FINE,Fine,STEAM,5,no,no,no,no,0,,yes,no
T-OLD,Old,STEAM,5,no,no,no,no,0,,yes,yes
""",
    "Tray contents": "tray,instrument,quantity\nT-HIP,Needle holder,2\n",
    "Sets": "set,tray,side,size,state,step,step since,in case,back at,return by,place,missing,"
    "recorded sterile at,recorded sterile until\n"
    """HIP-L,T-HIP,left,adult,on shelf,,,,,,S-01,,2026-11-20 10:00,
HIP-R,T-HIP,right,,on shelf,,,,,,S-02,,2026-11-20 10:00,2026-11-25
BONE-1,T-BONE,,,at step,wash,2026-11-25 17:30,,,,,,,
BONE2-1,T-BONE2,,,on shelf,,,,,,S-03,,,
BASIC-1,T-BASIC,,,in use,,,C-0,,,,,,
BASIC-2,T-BASIC,,,dirty,,2026-11-25 10:00,,,,,,,
BASIC-3,T-BASIC,,,away,,,,2026-11-26 06:00,,,,,
FINE-1,T-FINE,,,on loan,,,,2026-11-26 07:00,2026-11-26 09:30,,,,
FINE-2,T-FINE,,,incomplete,,,,,,,one needle holder,,
""",
    "Lots": """item,lot,quantity,unit,expiry,place
100001,L1,20,each,2027-06,A-01
100002,L2,20,pack,2026-11-25,A-02
100002,L2B,20,pack,2027-06,A-02
100003,L3,3,each,2027-06,A-02
100004,L4,20,each,2027-06,A-01
100005,L5,2,box,2027-06,A-01
100011,L11,20,pack,2027-06,A-02
100012,L12,20,pair,2027-06,A-03
100014,L14,20,pair,2027-06,A-03
100016,L16,20,each,2027-06,A-03
PK-1,L9,4,,2027-01-15,A-02
""",
    "Places": """place,walking order,area,building
A-01,30,Core,Main
A-02,20,Core,Main
A-03,10,Gloves,Main
S-01,5,Sterile,Main
S-02,4,Sterile,Main
S-03,3,Sterile,Main
""",
    "Routes": "route,step,after,usual minutes,least minutes,station,run,only for,begins in,"
    "cycle,temperature C,exposure minutes,drying minutes\n"
    """STEAM,rinse,,5,5,,,,room,,,,
STEAM,wash,rinse,60,45,washers,,,decontamination,,,,
STEAM,steam,wash,70,60,sterilizers,,,decontamination,pre-vacuum,132,4,25
STEAM,indicator,steam,180,180,,,implants,decontamination,,,,
STEAM,cool,steam,45,30,,,,decontamination,,,,
STEAM,bring,cool; indicator,10,10,,van,,decontamination,,,,
""",
    "Stations": """station,machines,trays per load,start every,start times,may run past closing,longest wait
washers,2,6,30,,yes,10
sterilizers,1,8,0,05:00; 09:00; 13:00; 20:00; 22:00,no,20
""",
    "Hours": "station,weekday,from,to\nwashers,daily,06:00,20:30\n",
    "Departures": "run,weekday,time\nvan,daily,06:30\nvan,daily,11:00\nvan,daily,23:30\n",
    "Holidays": "day,station\n2026-11-25,sterilizers\n",
    "Transfers": "from building,to building,minutes,run\nMain,Annex,20,van\n",
    "Past cases": "procedure,surgeon,planned minutes,actual minutes,room,planned start,actual start\n"
    "TOE,S2,60,80,OR 1,2026-11-19 07:30,2026-11-19 07:42\n",
    "Codes": "code,field,system,means,value\nOR1,AIL-3,LOCAL,room,OR 1\nA9,AIP-3,LOCAL,nothing,\n",
    "Export": "header,code,means,value\nTheatre,OR 01,room,OR 1\n",
}


def rich_tables() -> dict[str, list[list[str]]]:
    """Each table as rows of cells, the header first."""
    return {name: list(csv.reader(io.StringIO(text))) for name, text in RICH.items()}


def write_csv(folder: Path, tables: Mapping[str, list[list[str]]]) -> Path:
    """The tables as one CSV file each."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
    return folder
