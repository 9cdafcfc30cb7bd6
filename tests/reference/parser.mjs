// Tokens to a tree, by recursive descent. The timetable is parsed loosely and passed over.
import { GloamError, tokenise } from './lexer.mjs';

const EASE_WORDS = new Set(['ease', 'ease-in', 'ease-out', 'ease-in-out', 'step-start', 'step-end']);
const EASE_FUNCTIONS = new Set(['cubic-bezier', 'steps', 'linear']);
const DRIVERS = new Set(['over', 'throughout', 'every', 'for', 'along']);
const SUNS = new Set(['sunrise', 'sunset', 'civil', 'nautical', 'astronomical']);
const HUES = new Set(['shorter', 'longer', 'increasing', 'decreasing']);

class Parser {
    constructor(source) {
        this.tokens = tokenise(source);
        this.at = 0;
        this.depth = 0;
    }

    get token() { return this.tokens[this.at]; }
    get following() { return this.tokens[Math.min(this.at + 1, this.tokens.length - 1)]; }
    is(text) { return this.token.type !== 'string' && this.token.text === text; }
    fail(message) { throw new GloamError(message, this.token); }
    next() { return this.tokens[this.at++]; }
    accept(text) {
        if (!this.is(text)) return false;
        this.at++;
        return true;
    }
    expect(text) {
        if (!this.is(text)) this.fail(`expected ${text}, found ${this.token.text || 'the end'}`);
        return this.next();
    }
    take(type) {
        if (this.token.type !== type) this.fail(`expected a ${type}, found ${this.token.text || 'the end'}`);
        return this.next();
    }

    // ---- expressions, loosest first ----
    expression() {
        const place = this.token;
        if (this.accept('if')) {
            const condition = this.expression();
            this.expect('then');
            const yes = this.expression();
            this.expect('else');
            return { type: 'if', condition, yes, no: this.expression(), place };
        }
        let left = this.rampOrLogic();
        while (this.accept('delayed')) left = { type: 'delayed', of: left, by: this.sum(), place };
        return left;
    }

    startsMoment() {
        return this.depth === 0 && this.is('at') &&
            (this.following.type === 'time' || SUNS.has(this.following.text));
    }

    stop() {
        const stop = { value: this.logic(), place: null, easing: null };
        if (this.is('at') && !this.startsMoment()) {
            this.next();
            stop.place = this.sum();
        }
        stop.easing = this.optionalEasing();
        return stop;
    }

    rampOrLogic() {
        const place = this.token;
        const start = this.at;
        const first = this.logic();
        const mayBeStop = this.is('->') || this.is('|') || (this.is('at') && !this.startsMoment()) ||
            (this.startsEasing() && this.easingLeadsToRamp());
        if (!mayBeStop) return first;
        this.at = start;
        const stops = [this.stop()];
        const arrow = this.is('->') ? '->' : '|';
        if (!this.is(arrow)) this.fail('a ramp needs another value');
        while (this.accept(arrow)) stops.push(this.stop());
        const ramp = { type: 'ramp', bars: arrow === '|', stops, end: '', easing: null, space: 'oklab',
            hue: 'shorter', place };
        if (this.is('and') && (this.following.text === 'back' || this.following.text === 'round') &&
            DRIVERS.has(this.tokens[this.at + 2].text)) {
            this.next();
            ramp.end = this.next().text;
        }
        ramp.driver = this.driver();
        ramp.easing = this.optionalEasing();
        if (this.accept('in')) {
            ramp.space = this.take('name').text;
            if (HUES.has(this.token.text) && this.following.text === 'hue') {
                ramp.hue = this.next().text;
                this.next();
            }
        }
        return ramp;
    }

    // An easing after a first stop belongs to it only if an arrow follows.
    easingLeadsToRamp() {
        const start = this.at;
        this.optionalEasing();
        const leads = this.is('->');
        this.at = start;
        return leads;
    }

    driver() {
        const word = this.next().text;
        switch (word) {
        case 'over': return { kind: 'over', operand: this.sum() };
        case 'every': return { kind: 'every', operand: this.sum() };
        case 'along': return { kind: 'along', operand: this.sum() };
        case 'throughout': return { kind: 'throughout' };
        case 'for': {
            const operand = this.sum();
            this.expect('each');
            return { kind: 'for', operand };
        }
        default:
            this.at--;
            return this.fail('this ramp has no driver');
        }
    }

    startsEasing() {
        const { text, type } = this.token;
        if (type !== 'name') return false;
        if (EASE_WORDS.has(text)) return this.following.text !== '(';
        return EASE_FUNCTIONS.has(text) && this.following.text === '(';
    }

    optionalEasing() { return this.startsEasing() ? this.easing() : null; }

    signedNumber() {
        const sign = this.accept('-') ? -1 : 1;
        if (this.token.type !== 'number' && this.token.type !== 'percent') this.fail('expected a number');
        return sign * this.next().value;
    }

    easing() {
        const name = this.next().text;
        if (EASE_WORDS.has(name)) return { name };
        this.expect('(');
        const easing = { name, values: [], position: 'jump-end', points: [] };
        if (name === 'linear') {
            do {
                const point = { output: this.signedNumber(), inputs: [] };
                while (this.token.type === 'percent' || this.is('-')) point.inputs.push(this.signedNumber());
                easing.points.push(point);
            } while (this.accept(','));
        } else {
            do {
                if (this.token.type === 'name') easing.position = this.next().text;
                else easing.values.push(this.signedNumber());
            } while (this.accept(','));
        }
        this.expect(')');
        return easing;
    }

    logic() {
        let left = this.conjunction();
        while (this.is('or')) {
            const place = this.next();
            left = { type: 'binary', operator: 'or', left, right: this.conjunction(), place };
        }
        return left;
    }

    andIsRampEnd() {
        return (this.following.text === 'back' || this.following.text === 'round') &&
            DRIVERS.has(this.tokens[this.at + 2].text);
    }

    conjunction() {
        let left = this.negation();
        while (this.is('and') && !this.andIsRampEnd()) {
            const place = this.next();
            left = { type: 'binary', operator: 'and', left, right: this.negation(), place };
        }
        return left;
    }

    negation() {
        const place = this.token;
        if (this.accept('not')) return { type: 'not', of: this.negation(), place };
        return this.comparison();
    }

    comparison() {
        const left = this.sum();
        if (['==', '!=', '<', '<=', '>', '>='].includes(this.token.text) && this.token.type === 'mark') {
            const place = this.next();
            return { type: 'binary', operator: place.text, left, right: this.sum(), place };
        }
        return left;
    }

    sum() {
        let left = this.product();
        while (this.is('+') || this.is('-')) {
            const place = this.next();
            left = { type: 'binary', operator: place.text, left, right: this.product(), place };
        }
        return left;
    }

    product() {
        let left = this.unary();
        while (this.is('*') || this.is('/')) {
            const place = this.next();
            left = { type: 'binary', operator: place.text, left, right: this.unary(), place };
        }
        return left;
    }

    unary() {
        const place = this.token;
        if (this.accept('-')) return { type: 'negative', of: this.unary(), place };
        return this.primary();
    }

    primary() {
        const place = this.token;
        switch (place.type) {
        case 'number': case 'percent': case 'duration': case 'angle': case 'kelvin': case 'time':
        case 'colour':
            this.next();
            return { type: 'literal', kind: place.type, value: place.value, text: place.text, place };
        case 'reserved':
            if (this.accept('true')) return { type: 'literal', kind: 'truth', value: 1, place };
            if (this.accept('false')) return { type: 'literal', kind: 'truth', value: 0, place };
            break;
        case 'mark':
            if (this.accept('(')) {
                const inside = this.expression();
                this.expect(')');
                return { type: 'group', of: inside, place };
            }
            break;
        case 'name': return this.nameOrCall();
        default: break;
        }
        return this.fail(`unexpected ${place.text || 'end'}`);
    }

    nameOrCall() {
        const place = this.next();
        let name = place.text;
        if (name === 'ease' && this.is('(')) {
            this.next();
            const of = this.expression();
            this.expect(',');
            const easing = this.easing();
            this.expect(')');
            return { type: 'ease', of, easing, place };
        }
        if (this.is('.')) {
            this.next();
            name += `.${this.take('name').text}`;
        }
        if (!this.accept('(')) return { type: 'name', name, place };
        const call = { type: 'call', name, arguments: [], place };
        do call.arguments.push(this.expression()); while (this.accept(','));
        this.expect(')');
        return call;
    }

    // ---- declarations ----
    let() {
        const place = this.expect('let');
        const name = this.take('name').text;
        let parameters = null;
        if (this.accept('(')) {
            parameters = [];
            do parameters.push(this.take('name').text); while (this.accept(','));
            this.expect(')');
        }
        this.expect('=');
        return { type: 'let', name, parameters, value: this.expression(), place };
    }

    layer() {
        const place = this.expect('paint');
        const layer = { type: 'paint', value: this.expression(), mode: '', where: null, place };
        for (;;) {
            if (this.accept('blended')) layer.mode = this.take('name').text;
            else if (this.accept('where')) layer.where = this.expression();
            else return layer;
        }
    }

    routine() {
        const place = this.expect('routine');
        const routine = { type: 'routine', name: this.take('name').text, lasts: null, lets: [], layers: [], place };
        if (this.accept('lasts')) {
            routine.lasts = this.sum();
            if (this.accept('then')) this.qualified();
        }
        this.open();
        while (!this.is('}')) {
            if (this.is('let')) routine.lets.push(this.let());
            else routine.layers.push(this.layer());
        }
        this.close();
        return routine;
    }

    open() {
        this.expect('{');
        this.depth++;
    }

    close() {
        this.depth--;
        this.expect('}');
    }

    qualified() {
        let name = this.take('name').text;
        if (this.accept('.')) name += `.${this.take('name').text}`;
        return name;
    }

    dial() {
        this.expect('dial');
        const dial = { type: 'dial', name: this.take('name').text, from: null, to: null };
        this.expect('=');
        dial.value = this.sum();
        for (;;) {
            if (this.accept('from')) {
                dial.from = this.sum();
                this.expect('to');
                dial.to = this.sum();
            } else if (this.accept('eased')) this.sum();
            else if (this.token.type === 'string') this.next();
            else return dial;
        }
    }

    whole() { return this.take('number').value; }

    runs() {
        const runs = [];
        do {
            const first = this.whole();
            runs.push([first, this.accept('..') ? this.whole() : first]);
        } while (this.accept(','));
        return runs;
    }

    shape() {
        const word = this.next().text;
        const shape = { kind: word };
        if (word === 'grid') {
            shape.width = this.whole();
            this.expect('by');
            shape.height = this.whole();
            shape.zigzag = this.accept('zigzag');
        } else if (word === 'ball') {
            shape.frequency = this.whole();
            shape.faces = this.accept('faces');
        } else if (word === 'points') shape.file = this.take('string').value;
        else if (word !== 'strip' && word !== 'ring') this.fail(`no shape ${word}`);
        return shape;
    }

    lamp() {
        this.expect('lamp');
        const lamp = { type: 'lamp', name: this.take('name').text, pixels: 0, shape: null, turned: 0,
            mirrored: false, names: new Map() };
        this.open();
        while (!this.is('}')) {
            const word = this.next();
            if (word.type === 'end') this.fail('the { of a lamp is not closed');
            if (word.text === 'pixels') lamp.pixels = this.whole();
            else if (word.text === 'shape') lamp.shape = this.shape();
            else if (word.text === 'turned') lamp.turned = this.take('angle').value;
            else if (word.text === 'mirrored') lamp.mirrored = true;
            else if (word.text === 'part' || word.text === 'group') {
                const name = this.take('name').text;
                lamp.names.set(name, this.runs());
            }
        }
        this.close();
        return lamp;
    }

    startsDeclaration() {
        const { text, type } = this.token;
        if (type === 'end') return true;
        if (type === 'reserved' && ['use', 'let', 'dial', 'routine', 'lamp', 'when', 'between'].includes(text)) {
            return !(text === 'lamp' && this.tokens[this.at - 1].text === 'on');
        }
        const moment = this.following.type === 'time' || SUNS.has(this.following.text);
        if ((text === 'at' || text === 'by') && moment) return true;
        if (text === 'until' && this.following.text === 'clock') return true;
        return (text === 'event' && this.following.type === 'name') ||
            (text === 'place' && (this.following.type === 'number' || this.following.text === '-'));
    }

    timetable() {
        this.next();
        while (!this.startsDeclaration()) this.next();
    }

    file() {
        const file = { uses: [], lets: [], dials: [], routines: [], lamps: [] };
        while (this.token.type !== 'end') {
            if (this.is('use')) {
                this.next();
                const use = { file: this.take('string').value, as: '' };
                if (this.accept('as')) use.as = this.take('name').text;
                file.uses.push(use);
            } else if (this.is('let')) file.lets.push(this.let());
            else if (this.is('dial')) file.dials.push(this.dial());
            else if (this.is('routine')) file.routines.push(this.routine());
            else if (this.is('lamp')) file.lamps.push(this.lamp());
            else if (this.startsDeclaration()) this.timetable();
            else this.fail(`a declaration does not begin with ${this.token.text}`);
        }
        return file;
    }
}

export function parse(source) { return new Parser(source).file(); }
export function parseExpression(source) { return new Parser(source).expression(); }
