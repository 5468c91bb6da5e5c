"""The usual mix-ups, each named once, with the sentences that clear them up.

What a class is asked, what a pupil predicts, what is printed on paper and what is counted
afterwards all take their reasons from here. A sentence states facts of the run; the tests read
every sentence and hold its facts to a description of the machine that shares nothing with this.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum, StrEnum

from app.machine.source.problems import capital


class MixUp(StrEnum):
    """What was mixed up in a wrong answer, named as a pupil would look it up."""

    ADDRESS_FOR_CONTENTS = "an address instead of what is stored there"
    CONTENTS_FOR_ADDRESS = "what is stored at an address instead of the address"
    NUMBER_OR_ADDRESS = "a number (with #) and an address (without)"
    BEFORE_FOR_AFTER = "before instead of after"
    LATER_STEP = "a step that comes later"
    EARLIER_STEP = "a step that is over"
    COUNTER_MOVED_ON = "when the program counter moves on"
    OPERAND_FOR_NEXT = "the operand instead of the next address"
    SOURCE_FOR_TARGET = "where the value comes from instead of where it goes"
    COPY_EMPTIES = "that a copy leaves its source as it is"
    COPY_ADDS = "that a copy replaces what was there"
    COPY_DIRECTION = "which way LOAD and STORE copy"
    OPERATION = "what the instruction does, such as adding or taking away"
    ORDER = "which number comes first"
    PART_FOR_RESULT = "one of the two numbers instead of the result"
    WORD_TOO_SMALL = "a result that does not fit the word"
    COMPARING_CHANGES = "that comparing changes nothing but the status"
    SETS_STATUS = "which instructions set the status"
    COMPARISON = "how a comparison comes out"
    JUMP_TAKEN = "whether the jump is taken"
    HALVES = "the two halves of an instruction"
    OTHER_INSTRUCTION = "which instruction it is"
    INPUT_ORDER = "which input comes next"
    OUTPUT_KEPT = "that outputs stay, in their order"
    OUTPUT_SENT = "when a number is sent to the output"
    STOPPING = "what stops the machine"
    # What only a grown machine can be asked.
    OPERAND_IS_VALUE = "an operand that leads to an address instead of the value"
    INDEX_ADDED = "that the index is added to the address"
    INDEX_IN_INSTRUCTION = "that the index leaves the instruction as it is"
    RETURN_TO_CALL = "where a subroutine comes back to"
    TAKING_OFF_ERASES = "that taking off the stack erases nothing"
    STACK_WAY = "which way the stack grows"
    SHIFT_DOUBLES = "when a shift doubles or halves"
    CARRY = "what the carry tells"
    WHEN_SERVED = "when a request is served"
    STATUS_KEPT = "that the status is kept as well"
    ACCUMULATOR_KEPT = "that the accumulator is not kept by itself"
    ADDRESS_KEPT = "which address is kept"
    # What makes a machine faster.
    HIT_OR_MISS = "what is a hit and what is a miss"
    LINES_DRIVEN_OUT = "that one line can drive another out"
    BIGGER_IS_FASTER = "that a bigger cache need not be faster"
    MISS_COSTS = "what a miss costs"
    STAGES_OVERLAP = "that the stages work at the same time"
    EACH_FASTER = "that no single instruction gets faster"
    HAZARDS = "that a pipeline has to wait at times"
    NOT_ALL_SHARED = "that not all work can be shared among cores"
    TICKS_AND_CLOCK = "that the ticks and the clock both count"


class Reason(Enum):
    """A sentence that clears a mix-up up, with its facts left to fill; the mix-up is None where a
    wrong answer is no usual one.

    ``{holder}`` is what is asked about ('the accumulator', 'address 7 (total)'), ``{name}`` the
    first word of the instruction.
    """

    mixup: MixUp | None
    words: str

    def __init__(self, mixup: MixUp | None, words: str) -> None:
        self.mixup = mixup
        self.words = words

    HELD_BEFORE = (
        MixUp.BEFORE_FOR_AFTER,
        "{holder} held {said} before; the question is what it holds afterwards.",
    )
    COMES_LATER = (
        MixUp.LATER_STEP,
        "That comes later: {holder} becomes {said} when {name} is executed.",
    )
    ONE_TOO_FAR = (
        MixUp.LATER_STEP,
        "That comes later: {holder} becomes {said} in the next instruction, {name}.",
    )
    ADDRESS = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "{address} is the address. What counts is what is stored there, {contents}.",
    )
    ADDRESS_OF_IT = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "{address} is the address itself, not what is stored there.",
    )
    ADDRESS_OF_WORD = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "That is the address itself. What is stored at address {address} is {value}.",
    )
    ADDRESS_NOT_HELD = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "{address} is the address that {name} works with; {holder} does not hold it.",
    )
    WORKED_WITH_ADDRESS = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "This works with the address, {address}. {name} works with the number that is stored"
        " there, {contents}.",
    )
    NOT_AN_ADDRESS = (
        MixUp.NUMBER_OR_ADDRESS,
        "After #, {operand} is the number itself. It is not an address, so what is stored at"
        " address {operand} does not count.",
    )
    ADDRESS_ITSELF = (
        MixUp.CONTENTS_FOR_ADDRESS,
        "What is stored at address {address} is {contents}. The memory address register takes the"
        " address itself.",
    )
    JUMP_TO_ADDRESS = (
        MixUp.CONTENTS_FOR_ADDRESS,
        "What is stored at address {address} is {contents}. A jump goes to the address itself.",
    )
    COPY_EMPTIES = (
        MixUp.COPY_EMPTIES,
        "{name} makes a copy: {holder} keeps its {value}.",
    )
    COPY_REPLACES = (
        MixUp.COPY_ADDS,
        "{name} replaces what {holder} held, {before}; it does not add to it.",
    )
    STORE_DIRECTION = (
        MixUp.COPY_DIRECTION,
        "{name} copies from the accumulator to memory, not the other way round.",
    )
    LOAD_DIRECTION = (
        MixUp.COPY_DIRECTION,
        "{name} copies from memory to the accumulator, not the other way round.",
    )
    NOT_STORED = (
        MixUp.COPY_DIRECTION,
        "The accumulator holds {said}, and it has not been stored at {holder}.",
    )
    OPERATION = (
        MixUp.OPERATION,
        "{name} {verb}; this is what would come out if it {other}.",
    )
    ORDER = (
        MixUp.ORDER,
        "This takes the two numbers the wrong way round: {name} works out {left} {sign} {right}.",
    )
    PART = (
        MixUp.PART_FOR_RESULT,
        "The number {right} is only the second of the two; the question is what"
        " {left} {sign} {right} makes.",
    )
    WRAPS = (
        MixUp.WORD_TOO_SMALL,
        "The full result, {said}, does not fit a word of {bits} bits, so it wraps round to"
        " {value}.",
    )
    COMPARING_TAKES = (
        MixUp.COMPARING_CHANGES,
        "{name} does not take {right} away from {holder}: it only compares {value} with {right}.",
    )
    COMPARING_COPIES = (
        MixUp.COMPARING_CHANGES,
        "{name} does not copy {right} to {holder}: it only compares {value} with {right}.",
    )
    NEXT_INPUT = (
        MixUp.INPUT_ORDER,
        "The input {said} comes after this one; the inputs come in their order.",
    )
    COUNTER_HERE = (
        MixUp.COUNTER_MOVED_ON,
        "{said} is where {name} itself stands. The program counter moved on from there in the"
        " fetch.",
    )
    JUMP_HERE = (
        MixUp.COUNTER_MOVED_ON,
        "{said} is where {name} itself stands. It puts {value} into the program counter.",
    )
    COUNTER_ONCE = (
        MixUp.COUNTER_MOVED_ON,
        "The program counter moves on by one, once in each fetch, so it is at {value}.",
    )
    COUNTER_AFTER_JUMP = (
        MixUp.COUNTER_MOVED_ON,
        "The jump leads to {value}; the program counter moves on from there in the next fetch.",
    )
    COUNTER_NOT_YET = (
        MixUp.COUNTER_MOVED_ON,
        "The address is copied before the program counter moves on: it still holds {value} then.",
    )
    COUNTER_STILL = (
        MixUp.COUNTER_MOVED_ON,
        "The program counter has not moved on yet: it still holds {value}.",
    )
    OPERAND_FOR_NEXT = (
        MixUp.OPERAND_FOR_NEXT,
        "{said} is the address that {name} works with, not where the next instruction stands.",
    )
    JUMP_TAKEN = (
        MixUp.JUMP_TAKEN,
        "{status}, and this jump needs {condition}: it goes on to {value}.",
    )
    JUMP_NOT_TAKEN = (
        MixUp.JUMP_TAKEN,
        "{status}, and that is what this jump needs: it goes on at {value}, not at {said}.",
    )
    JUMP_ALWAYS = (
        MixUp.JUMP_TAKEN,
        "{said} is next in line, but a {name} without an IF always jumps: it goes on at {value}.",
    )
    WRONG_WAY_ROUND = (
        MixUp.ORDER,
        "{Holder} comes first: {left} {compares} {right}.",
    )
    NOT_EQUAL = (
        MixUp.COMPARISON,
        "{Holder}, {left}, {compares} {right}: EQUAL is only for two that are the same.",
    )
    ARE_EQUAL = (
        MixUp.COMPARISON,
        "The two are the same, {left}, so the status is EQUAL.",
    )
    STATUS_OF_RESULT = (
        MixUp.COMPARISON,
        "{name} compares its result with 0, and {value} {compares} 0.",
    )
    STATUS_STAYS = (
        MixUp.SETS_STATUS,
        "{name} does not set the status: it stays {value}.",
    )
    STATUS_SET = (
        MixUp.SETS_STATUS,
        "{name} sets the status: it becomes {value}.",
    )
    STATUS_LATER = (
        MixUp.LATER_STEP,
        "The status changes only when an instruction is executed.",
    )
    NO_STATUS_YET = (
        MixUp.SETS_STATUS,
        "Nothing has been compared yet, so there is no status.",
    )
    LEFT_OUT = (
        MixUp.OUTPUT_SENT,
        "This leaves out {value}, which {name} sends.",
    )
    SENT_STAYS = (
        MixUp.OUTPUT_KEPT,
        "What was sent before stays: {earlier}.",
    )
    SENT_IN_ORDER = (
        MixUp.OUTPUT_KEPT,
        "The number that was sent first stands first.",
    )
    NOT_SENT = (
        MixUp.OUTPUT_SENT,
        "The accumulator holds {acc}, and it is sent only when OUTPUT is executed.",
    )
    SENT_BEFORE = (
        MixUp.BEFORE_FOR_AFTER,
        "The number {said} was sent before; now {value} is sent.",
    )
    WRITTEN_OVER = (
        MixUp.BEFORE_FOR_AFTER,
        "This one stood at address {address} at the start. Another word has been stored there"
        " since.",
    )
    STANDS_ELSEWHERE = (
        MixUp.OTHER_INSTRUCTION,
        "This one stands at {places}. The program counter held {here}, so the fetch takes the word"
        " there.",
    )
    FETCHED_BEFORE = (
        MixUp.BEFORE_FOR_AFTER,
        "This one was in the register before; it has been carried out already.",
    )
    ADDRESS_AS_WORD = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "That is the address, {address}, written as a word. What is fetched is the word that is"
        " stored there.",
    )
    AFTER_IT = (
        MixUp.COUNTER_MOVED_ON,
        "That one stands at address {address}, after it. The program counter is still at {here};"
        " it moves on at the end of the fetch.",
    )
    AFTER_IT_COPIED = (
        MixUp.COUNTER_MOVED_ON,
        "That one stands at address {address}, after it. The address of this one, {here}, was"
        " copied before the program counter moved on.",
    )
    HALVES = (
        MixUp.HALVES,
        "The two halves are mixed up. The left half, {left}, is the opcode: it says what to do."
        " The right half is the operand.",
    )
    OPCODE = (
        None,
        "Look the opcode up again: {left} is {code}, which means {written}.",
    )
    OPCODE_OPERATION = (
        MixUp.OPERATION,
        "Look the opcode up again: {left} is {code}, which means {written}.",
    )
    OPCODE_NUMBER = (
        MixUp.NUMBER_OR_ADDRESS,
        "Look the opcode up again: {left} is {code}, which means {written}: # says that the"
        " operand is the number itself.",
    )
    NO_SUCH_INSTRUCTION = (
        None,
        "The program has no such instruction.",
    )
    IT_JUMPS = (
        MixUp.JUMP_TAKEN,
        "{status}, and that is what this jump needs.",
    )
    IT_ALWAYS_JUMPS = (
        MixUp.JUMP_TAKEN,
        "A {name} without an IF always jumps.",
    )
    IT_DOES_NOT_JUMP = (
        MixUp.JUMP_TAKEN,
        "{status}, and this jump needs {condition}.",
    )
    NOTHING_STOPS = (
        MixUp.STOPPING,
        "A jump does not stop the machine: it goes on at {value}.",
    )
    NOT_YET_STOPPED = (
        MixUp.STOPPING,
        "Not yet: first the machine goes on at {value}. The {stops} there stops it.",
    )
    ONE_WAY = (
        MixUp.JUMP_TAKEN,
        "A jump goes one way each time. Here it goes on at {value}.",
    )
    NOT_TO_THE_START = (
        MixUp.JUMP_TAKEN,
        "A jump goes to the address in its operand, and that is {operand}.",
    )
    KEEPS_ITS_VALUE = (
        MixUp.SOURCE_FOR_TARGET,
        "{Place} is where the value comes from: it keeps its value. What changes is {target}.",
    )
    # Of a grown machine.
    POINTER = (
        MixUp.OPERAND_IS_VALUE,
        "The number {said} is stored at address {operand}, and it is an address too. What counts is"
        " what is stored there, {contents}.",
    )
    WORKED_WITH_POINTER = (
        MixUp.OPERAND_IS_VALUE,
        "This works with {pointer}, which is stored at address {operand} and is an address too."
        " {name} works with what is stored there, {contents}.",
    )
    ONLY_WHERE = (
        MixUp.OPERAND_IS_VALUE,
        "{said} is only where the address stands. What is stored there is {value}, and that is the"
        " address.",
    )
    INDEX_LEFT_OUT = (
        MixUp.INDEX_ADDED,
        "This takes what is stored at address {operand}. The index, {index}, is added to that"
        " address first, which makes {address}.",
    )
    OPERAND_ALONE = (
        MixUp.INDEX_ADDED,
        "{said} is the operand alone. The index, {index}, is added to it, which makes {value}.",
    )
    INDEX_KEPT = (
        MixUp.INDEX_IN_INSTRUCTION,
        "{name} adds the index to the operand only to find the address: {holder} keeps its"
        " {value}.",
    )
    INDEX_NOT_IN_WORD = (
        MixUp.INDEX_IN_INSTRUCTION,
        "The index is added on the way to memory. The instruction stays as it is: its operand is"
        " {operand}.",
    )
    CALL_ITSELF = (
        MixUp.RETURN_TO_CALL,
        "{said} is where the CALL itself stands. What was put on the stack is the address after it,"
        " {value}.",
    )
    COMES_BACK = (
        MixUp.RETURN_TO_CALL,
        "{said} is next in line, but {name} goes back to the address on top of the stack, {value}.",
    )
    CALL_KEEPS = (
        MixUp.RETURN_TO_CALL,
        "{said} is the address after the CALL: it is kept on the stack, to come back to. The CALL"
        " goes on at {value}.",
    )
    STILL_THERE = (
        MixUp.TAKING_OFF_ERASES,
        "{name} makes a copy and moves the stack pointer: {holder} keeps its {value}.",
    )
    GROWS_DOWN = (
        MixUp.STACK_WAY,
        "The stack grows down from the end of memory. {name} {does}, so the stack pointer moves"
        " {way}, from {before} to {value}.",
    )
    SHIFT_DOUBLES = (
        MixUp.SHIFT_DOUBLES,
        "A shift to the left doubles only while the result fits the word. With a sign a word"
        " holds {least} to {most}: {said} does not fit, so it becomes {value}.",
    )
    SHIFT_LOSES_SIGN = (
        MixUp.SHIFT_DOUBLES,
        "This keeps the sign. Without SIGNED zeros come in on the left, so it becomes {value}.",
    )
    NOT_NEGATIVE = (
        MixUp.OPERATION,
        "That is the number with its sign changed. NOT turns every bit round, and that makes one"
        " less: {value}.",
    )
    CARRY_STAYS = (
        MixUp.CARRY,
        "{name} does not set the carry: it stays {value}.",
    )
    CARRY_LATER = (
        MixUp.LATER_STEP,
        "The carry changes only when an instruction is executed.",
    )
    CARRY_OF_SUM = (
        MixUp.CARRY,
        "Without signs, {left} and {right} make {full}. A word holds up to {most}, so the carry is"
        " {value}.",
    )
    CARRY_OF_DIFFERENCE = (
        MixUp.CARRY,
        "Without signs, {right} {compares} {left}, so the carry is {value}.",
    )
    CARRY_OF_SHIFT = (
        MixUp.CARRY,
        "The carry is the bit that left last, and that is {value}.",
    )
    # Of a request; what is asked about it is in `serving`.
    AT_ONCE = (
        MixUp.WHEN_SERVED,
        "A request is looked at only where an instruction has ended: {written} is carried out to"
        " its end first.",
    )
    AT_ONCE_OFF = (
        MixUp.WHEN_SERVED,
        "A request is looked at only where an instruction has ended, and only where interrupts are"
        " on. That is so after {written}.",
    )
    NEED_NOT_END = (
        MixUp.WHEN_SERVED,
        "The program does not end for it: the request is served after {written}, and the program"
        " goes on later.",
    )
    INTERRUPTS_ON = (
        MixUp.WHEN_SERVED,
        "Interrupts are on: the request waits only until {written} has ended.",
    )
    INTERRUPTS_OFF = (
        MixUp.WHEN_SERVED,
        "Interrupts are off, so the request has to wait longer: it is served after {written}.",
    )
    STATUS_KEPT = (
        MixUp.STATUS_KEPT,
        "The status, {status}, is kept in the same word, {word}.",
    )
    ACCUMULATOR_NOT_KEPT = (
        MixUp.ACCUMULATOR_KEPT,
        "The accumulator is not in the word that is kept, {word}. The routine has to put it on the"
        " stack itself, with PUSH.",
    )
    GOES_ON_LATER = (
        None,
        "The program goes on later at {value}, and that is kept in the word {word}.",
    )
    RUNNING_ADDRESS = (
        MixUp.ADDRESS_KEPT,
        "{said} is where {written} stands, and that has ended. The program goes on later at"
        " {value}.",
    )
    ROUTINE_ADDRESS = (
        MixUp.ADDRESS_KEPT,
        "{said} is where the routine starts, and that stays in the interrupt vector register. What"
        " is kept is where the program goes on later, {value}.",
    )
    ROUTINE_FIRST = (
        MixUp.BEFORE_FOR_AFTER,
        "{said} is where the program goes on later. First the routine is carried out, from {value}"
        " on.",
    )
    KEPT_BELOW = (
        MixUp.STACK_WAY,
        "The stack grows down from the end of memory: the stack pointer moves from {before} to"
        " {value}.",
    )
    COUNTER_STAYS = (
        MixUp.COUNTER_MOVED_ON,
        "The program counter moves on only in a fetch, and none has come since: it holds {value}.",
    )
    WHERE_IT_LIES = (
        MixUp.ADDRESS_FOR_CONTENTS,
        "{said} is where the word lies on the stack. What is kept in it is {value}.",
    )
    NOT_THE_VECTOR = (
        MixUp.ADDRESS_KEPT,
        "{said} is what the interrupt vector register holds, where a routine starts. This RETURN"
        " goes on at the address that is kept on the stack, {value}.",
    )
    STATUS_BACK = (
        MixUp.STATUS_KEPT,
        "This RETURN takes the status from the word on the stack, and there it is {value}.",
    )
    CARRY_BACK = (
        MixUp.STATUS_KEPT,
        "This RETURN takes the carry from the word on the stack, and there it is {value}.",
    )
    BROKE_IN = (
        MixUp.ADDRESS_KEPT,
        "{said} is next in line, but this RETURN goes on at the address that is kept on the stack,"
        " {value}.",
    )
    SWITCHED = (
        MixUp.BEFORE_FOR_AFTER,
        "Interrupts were {said} before; the question is what they are afterwards.",
    )
    ROUTINE_ITSELF = (
        MixUp.CONTENTS_FOR_ADDRESS,
        "What is stored at address {operand} is {contents}. The interrupt vector register takes the"
        " address itself.",
    )
    CHANGES_LATER = (
        MixUp.LATER_STEP,
        "{Place} changes too, but in a later step. First it is {target}.",
    )
    CHANGED_EARLIER = (
        MixUp.EARLIER_STEP,
        "{Place} has changed already, in an earlier step. Now it is {target}.",
    )
    COUNTED_ALREADY = (
        MixUp.COUNTER_MOVED_ON,
        "The program counter has moved on already, in the fetch. What changes now is {target}.",
    )
    STATUS_NOT_SET = (
        MixUp.SETS_STATUS,
        "{name} does not set the status. What changes is {target}.",
    )

    # Of what watches a run: a cache, a pipeline, machines side by side.
    IN_CACHE_ALREADY = (
        MixUp.HIT_OR_MISS,
        "The cache has address {address} already, so this is a hit.",
    )
    PLACE_IS_EMPTY = (
        MixUp.HIT_OR_MISS,
        "Nothing lies yet where address {address} would lie, so this is a miss.",
    )
    OTHER_LINE_THERE = (
        MixUp.LINES_DRIVEN_OUT,
        "Another line lies where address {address} would lie, so this is a miss.",
    )
    EVERY_READ_MISSES = (
        MixUp.HIT_OR_MISS,
        "This counts every read. A miss brings a whole line, so of {reads} only {misses} missed.",
    )
    EVERY_READ_HITS = (
        MixUp.HIT_OR_MISS,
        "This counts every read. Of {reads} {misses} missed, because the line was not there.",
    )
    HITS_COUNTED = (
        MixUp.HIT_OR_MISS,
        "{hits} is how many were hits. A miss is a read whose line is not there: {misses} in all.",
    )
    MISSES_COUNTED = (
        MixUp.HIT_OR_MISS,
        "{misses} is how many missed. A hit is a read whose line is there: {hits} in all.",
    )
    EACH_LINE_ONCE = (
        MixUp.LINES_DRIVEN_OUT,
        "This counts each line once, and there are {lines}. Some were driven out and had to come"
        " again: {misses} reads missed.",
    )
    BIGGER_IS_FASTER = (
        MixUp.BIGGER_IS_FASTER,
        "{times} times the cache does not miss {times} times less. With {other} it was {before};"
        " here it is {misses}.",
    )
    EVERY_TRIP_TO_MEMORY = (
        MixUp.MISS_COSTS,
        "This is as if there were no cache. {took}.",
    )
    EVERY_TRIP_ONE_TICK = (
        MixUp.MISS_COSTS,
        "This is as if every trip to memory took 1 tick. A miss takes {miss}.",
    )
    ONLY_HITS = (
        MixUp.MISS_COSTS,
        "A hit takes 1 tick in place of {memory}, but the rest takes as long as before: {ticks}"
        " ticks in place of {before}.",
    )
    ONE_AFTER_ANOTHER = (
        MixUp.STAGES_OVERLAP,
        "This is one instruction after another. The stages work at the same time, so it takes"
        " {ticks} ticks.",
    )
    EACH_FASTER = (
        MixUp.EACH_FASTER,
        "This is as if each instruction took one tick. Each one still goes through {stages} stages,"
        " and all of them take {ticks} ticks.",
    )
    NEVER_WAITS = (
        MixUp.HAZARDS,
        "This is a pipeline that never waits: {ideal} ticks. Here {more} lost.",
    )
    NOTHING_LOST = (
        MixUp.HAZARDS,
        "A pipeline that never waits would take {ideal} ticks. This one takes {ticks}.",
    )
    ONLY_JUMPS = (
        MixUp.HAZARDS,
        "This counts the jumps alone. {other} lost by waiting.",
    )
    ONLY_WAITING = (
        MixUp.HAZARDS,
        "This counts the waiting alone. The jumps cost {jumps}.",
    )
    AS_MANY_AS_STAGES = (
        MixUp.HAZARDS,
        "It would be {stages} times only if all stages were always at work. Here it takes {ticks}"
        " ticks and not {without}.",
    )
    NO_FASTER = (
        MixUp.STAGES_OVERLAP,
        "No instruction gets faster, but several are under way at once: {ticks} ticks and not"
        " {without}.",
    )
    ALL_SHARED = (
        MixUp.NOT_ALL_SHARED,
        "{cores} cores would be {cores} times as fast only if all of the work could be shared. Here"
        " {share} % can.",
    )
    ONLY_CLOCK = (
        MixUp.TICKS_AND_CLOCK,
        "This compares the clocks alone. {last} takes {ticks} ticks, and {first} takes {before}.",
    )
    ONLY_TICKS = (
        MixUp.TICKS_AND_CLOCK,
        "This compares the ticks alone, {before} and {ticks}. How long a tick is and how many work"
        " side by side counts, too.",
    )
    EQUALLY_FAST = (
        MixUp.TICKS_AND_CLOCK,
        "They do the same work, and not in the same time: {before} ticks and {ticks}, with their"
        " own clocks and cores.",
    )


@dataclass(frozen=True, slots=True)
class Misconception:
    """What a mix-up answers: the value (a signed number, an address, a status, the words of an
    instruction, or a text), the reason, and the facts that its sentence states."""

    value: int | str | tuple[int, ...]
    reason: Reason
    facts: dict[str, str] = field(default_factory=dict)

    @property
    def mixup(self) -> MixUp | None:
        return self.reason.mixup

    @property
    def sentence(self) -> str:
        return capital(self.reason.words.format(**self.facts))
