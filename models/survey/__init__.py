"""What was seen in a house. `Survey` is the whole of it; the other names are its parts."""

from models.survey.house import (
    Annexe as Annexe,
    BasementFloor as BasementFloor,
    BasementWall as BasementWall,
    ByLayers as ByLayers,
    ByTable as ByTable,
    ByU as ByU,
    Construction as Construction,
    GroundSlab as GroundSlab,
    House as House,
    Layer as Layer,
    LayerPath as LayerPath,
    SuspendedFloor as SuspendedFloor,
)
from models.survey.part import Part as Part
from models.survey.rooms import Element as Element, Emitter as Emitter, Room as Room, WallSpace as WallSpace
from models.survey.site import (
    Hazard as Hazard,
    Isolator as Isolator,
    Load as Load,
    NeighbourWindow as NeighbourWindow,
    Opening as Opening,
    Photo as Photo,
    Position as Position,
    Supply as Supply,
    Tariffs as Tariffs,
)
from models.survey.survey import SCHEMA_VERSION as SCHEMA_VERSION, Survey as Survey, room_faults as room_faults
from models.survey.systems import (
    CylinderPlace as CylinderPlace,
    ExistingSystem as ExistingSystem,
    HotWater as HotWater,
    LoftTank as LoftTank,
    OldCylinder as OldCylinder,
    Pipework as Pipework,
)
