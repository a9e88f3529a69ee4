# What the store finds in the slot files of the folder it runs in, as a start of the fixture would.
import binascii
import json
import sys

sys.path.insert(0, sys.argv[1])

import storage
from commands import over_pressure_code

store = storage.CalibrationStore()
print(
    json.dumps(
        {
            "generation": store.generation,
            "valid": store.valid,
            "data": binascii.hexlify(store.data).decode(),
            "over_pressure_code": over_pressure_code(store.data),
        }
    )
)
